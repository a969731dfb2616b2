from django.urls import path

from programs.attendance.missed import views, views_course

urlpatterns = [
    path("today/<int:pk>/make-up/", views.make_up, name="make-up"),
    path("today/<int:pk>/make-up/give-up/", views.give_up, name="give-up-make-up"),
    path("enrolments/<int:pk>/missed/call/", views_course.call, name="call"),
    path("enrolments/<int:pk>/missing/book/", views_course.book_missing, name="book-missing"),
    path("enrolments/<int:pk>/missing/undo/", views_course.undo_missing, name="undo-missing"),
]
