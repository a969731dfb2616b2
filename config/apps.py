"""The house itself: the demo command and the system checks."""

from django.apps import AppConfig
from django.contrib.admin.apps import AdminConfig


class HouseConfig(AppConfig):
    name = "config"
    label = "house"
    verbose_name = "Thirtysix"


class OurAdminConfig(AdminConfig):
    """``django.contrib.admin`` behind our own sign-in."""

    default_site = "programs.staff.admin_site.OurAdminSite"
