from django.urls import path

from programs.attendance.paper import views

urlpatterns = [
    path("patients/<int:pk>/emergency-card/", views.emergency_card, name="emergency-card"),
]
