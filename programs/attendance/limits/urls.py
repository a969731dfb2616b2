from django.urls import path

from programs.attendance.limits import views

urlpatterns = [
    path("rules/", views.rules, name="rules"),
    path("rules/<str:key>/", views.edit_limit, name="edit-limit"),
    path("patients/<int:pk>/limits/", views.person_limits, name="person-limits"),
    path("limits/<int:pk>/end/", views.end_limit, name="end-limit"),
]
