from django.urls import path

from programs.attendance.paper import views

urlpatterns = [
    path("classes/<int:pk>/plan-of-day/", views.plan_of_day, name="plan-of-day"),
    path("visits/<int:pk>/record/", views.session_record, name="session-record"),
    path("patients/<int:pk>/emergency-card/", views.emergency_card, name="emergency-card"),
]
