from django.urls import path

from programs.enrolment.risk import views

urlpatterns = [
    path("patients/<int:pk>/risk/", views.risk, name="risk"),
    path("patients/<int:pk>/risk/class/", views.stratify, name="stratify"),
    path("patients/<int:pk>/risk/screen/", views.screen, name="screen"),
]
