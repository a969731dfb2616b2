from django.urls import path

from programs.enrolment import views, views_list

app_name = "enrolment"
urlpatterns = [
    path("referrals/", views.referral_list, name="referrals"),
    path("referrals/add/", views.add_referral, name="add-referral"),
    path("referrals/<int:pk>/", views.referral, name="referral"),
    path("referrals/<int:pk>/change/", views.change_referral, name="change-referral"),
    path("referrals/<int:pk>/eligibility/", views.confirm, name="confirm-eligibility"),
    path("referrals/<int:pk>/contact/", views.log_contact, name="log-contact"),
    path("referrals/<int:pk>/close/", views.close_referral, name="close-referral"),
    path("referrals/<int:pk>/enrol/", views.enrol, name="enrol"),
    path("referrals/lists/", views_list.upload, name="upload"),
    path("referrals/lists/<int:pk>/", views_list.preview, name="list"),
    path("referrals/lists/<int:pk>/take-in/", views_list.take_in, name="take-in"),
    path("referrals/lists/<int:pk>/refused/", views_list.rejected, name="refused-rows"),
]
