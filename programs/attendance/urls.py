"""Each subject has its own addresses; all share the name of the room."""

from django.urls import include, path

app_name = "attendance"
urlpatterns = [
    path("", include("programs.attendance.today.urls")),
    path("", include("programs.attendance.line.urls")),
    path("", include("programs.attendance.visit.urls")),
    path("", include("programs.attendance.missed.urls")),
    path("", include("programs.attendance.sheet.urls")),
    path("", include("programs.attendance.meeting.urls")),
    path("", include("programs.attendance.teaching.urls")),
    path("", include("programs.attendance.events.urls")),
    path("", include("programs.attendance.limits.urls")),
    path("", include("programs.attendance.paper.urls")),
]
