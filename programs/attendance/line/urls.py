from django.urls import path

from programs.attendance.line import views

urlpatterns = [
    path("today/<int:pk>/line/", views.save, name="line"),
    path("visits/<int:pk>/stop/", views.stop, name="stop"),
    path("visits/<int:pk>/stop/undo/", views.take_stop_back, name="undo-stop"),
]
