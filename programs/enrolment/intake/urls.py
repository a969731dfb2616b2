from django.urls import path

from programs.enrolment.intake import views, views_enrol, views_steps

urlpatterns = [
    path("referrals/<int:pk>/", views.referral, name="referral"),
    path("referrals/<int:pk>/eligibility/", views_steps.confirm, name="confirm-eligibility"),
    path("referrals/<int:pk>/contact/", views_steps.log_contact, name="log-contact"),
    path("referrals/<int:pk>/owner/", views_steps.assign, name="assign"),
    path("referrals/<int:pk>/papers/", views_steps.papers, name="papers"),
    path("referrals/<int:pk>/waiting/", views_steps.wait_for_seat, name="wait-for-seat"),
    path("referrals/<int:pk>/close/", views_steps.close_referral, name="close-referral"),
    path("referrals/<int:pk>/enrol/", views_enrol.enrol, name="enrol"),
    path("referrals/<int:pk>/phone/", views_enrol.phone_script, name="phone-script"),
]
