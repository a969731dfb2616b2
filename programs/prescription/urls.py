from django.urls import path

from programs.prescription import views

app_name = "prescription"
urlpatterns = [
    path("enrolments/<int:pk>/prescription/", views.prescribe, name="prescribe"),
    path("enrolments/<int:pk>/prescription/work-out/", views.work_out, name="work-out"),
    path("prescriptions/<int:pk>/sign/", views.sign_prescription, name="sign-prescription"),
]
