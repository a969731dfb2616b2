from django.urls import path

from programs.enrolment.timetable import views

urlpatterns = [
    path("classes/", views.classes, name="classes"),
    path("classes/add/", views.edit_class, name="add-class"),
    path("classes/<int:pk>/", views.edit_class, name="edit-class"),
    path("classes/closed-day/", views.close_day, name="close-day"),
    path("classes/closed-day/<int:pk>/open/", views.open_day, name="open-day"),
    path("classes/one-day/", views.change_class, name="change-class"),
]
