from django.urls import path

from programs.prescription import views
from programs.prescription.policy import views as policy

app_name = "prescription"
urlpatterns = [
    path("doses/policy/", policy.policy, name="policy"),
    path("doses/policy/limits/", policy.edit_policy, name="edit-policy"),
    path("doses/policy/machines/<slug:kind>/", policy.edit_machine, name="edit-machine"),
    path("enrolments/<int:pk>/prescription/", views.prescribe, name="prescribe"),
    path("enrolments/<int:pk>/prescription/work-out/", views.work_out, name="work-out"),
    path("prescriptions/<int:pk>/sign/", views.sign_prescription, name="sign-prescription"),
]
