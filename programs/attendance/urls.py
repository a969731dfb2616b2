from django.urls import path

from programs.attendance import views, views_sheet

app_name = "attendance"
urlpatterns = [
    path("today/", views.today, name="today"),
    path("today/<int:pk>/arrive/", views.arrive, name="arrive"),
    path("today/<int:pk>/absent/", views.absent, name="absent"),
    path("today/<int:pk>/undo/", views.undo, name="undo"),
    path("classes/<int:pk>/arrive-all/", views.arrive_all, name="arrive-all"),
    path("classes/<int:pk>/add/", views.add_someone, name="add-someone"),
    path("visits/<int:pk>/", views_sheet.sheet, name="sheet"),
    path("visits/<int:pk>/live/", views_sheet.live, name="live"),
    path("findings/<int:pk>/answer/", views_sheet.answer, name="answer"),
]
