from django.urls import path

from programs.prescription import views

app_name = "prescription"
urlpatterns = [
    path("enrolments/<int:pk>/plan/", views.plan, name="plan"),
    path("plans/<int:pk>/sign/", views.sign_plan, name="sign-plan"),
    path("prescriptions/<int:pk>/sign/", views.sign_prescription, name="sign-prescription"),
]
