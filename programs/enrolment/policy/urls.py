from django.urls import path

from programs.enrolment.policy import views

urlpatterns = [
    path("policy/", views.policy, name="policy"),
    path("policy/payers/add/", views.edit_payer, name="add-payer"),
    path("policy/payers/<int:pk>/", views.edit_payer, name="edit-payer"),
    path("policy/rules/copy/<slug:key>/", views.copy_rule_set, name="copy-rule-set"),
    path("policy/rules/<int:pk>/", views.edit_rule_set, name="edit-rule-set"),
    path("policy/supervision/<slug:risk_class>/", views.edit_supervision, name="edit-supervision"),
    path("policy/precautions/add/", views.edit_protocol, name="add-protocol"),
    path("policy/precautions/<int:pk>/", views.edit_protocol, name="edit-protocol"),
]
