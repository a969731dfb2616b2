from django.urls import path

from programs.enrolment.lists import views

urlpatterns = [
    path("referrals/lists/", views.upload, name="upload"),
    path("referrals/lists/layouts/<int:pk>/", views.layout, name="list-layout"),
    path("referrals/lists/<int:pk>/", views.preview, name="list"),
    path("referrals/lists/<int:pk>/take-in/", views.take_in, name="take-in"),
    path("referrals/lists/<int:pk>/refused/", views.rejected, name="refused-rows"),
]
