"""Each subject has its own addresses; all share the name of the room."""

from django.urls import include, path

app_name = "enrolment"
urlpatterns = [
    path("", include("programs.enrolment.referrals.urls")),
    path("", include("programs.enrolment.lists.urls")),
    path("", include("programs.enrolment.intake.urls")),
    path("", include("programs.enrolment.courses.urls")),
    path("", include("programs.enrolment.risk.urls")),
    path("", include("programs.enrolment.timetable.urls")),
    path("", include("programs.enrolment.policy.urls")),
]
