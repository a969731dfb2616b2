"""Every page of the house."""

from django.contrib import admin
from django.urls import include, path

from reports.views import home

handler500 = "config.errors.server_error"
urlpatterns = [
    path("", home, name="home"),
    path("", include("programs.urls")),
    path("", include("patients.urls")),
    path("", include("assessments.urls")),
    path("", include("reports.urls")),
    path("settings/admin/", admin.site.urls),
]
