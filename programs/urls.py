"""The rooms of the program."""

from django.urls import include, path

urlpatterns = [
    path("", include("programs.staff.urls")),
    path("", include("programs.enrolment.urls")),
    path("", include("programs.prescription.urls")),
    path("", include("programs.attendance.urls")),
    path("", include("programs.review.urls")),
]
