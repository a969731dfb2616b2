from django.urls import path

from programs.enrolment.referrals import views

urlpatterns = [
    path("referrals/", views.referral_list, name="referrals"),
    path("referrals/not-enrolling/", views.closed_referrals, name="closed-referrals"),
    path("referrals/waiting-list/", views.waiting_list, name="waiting-list"),
    path("referrals/add/", views.add_referral, name="add-referral"),
    path("referrals/<int:pk>/change/", views.change_referral, name="change-referral"),
]
