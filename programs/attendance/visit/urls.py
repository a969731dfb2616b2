from django.urls import path

from programs.attendance.visit import views

urlpatterns = [
    path("today/<int:pk>/arrive/", views.arrive, name="arrive"),
    path("today/<int:pk>/absent/", views.absent, name="absent"),
    path("today/<int:pk>/undo/", views.undo, name="undo"),
]
