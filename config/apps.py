"""The house itself: the demo command and the system checks."""

from django.apps import AppConfig


class HouseConfig(AppConfig):
    name = "config"
    label = "house"
    verbose_name = "Thirtysix"
