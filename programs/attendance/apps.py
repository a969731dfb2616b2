from django.apps import AppConfig


class AttendanceConfig(AppConfig):
    name = "programs.attendance"
    label = "attendance"
