from django.urls import path

from programs.attendance.missed import views

urlpatterns = [
    path("today/<int:pk>/make-up/", views.make_up, name="make-up"),
    path("today/<int:pk>/make-up/give-up/", views.give_up, name="give-up-make-up"),
]
