from django.apps import AppConfig


class StaffConfig(AppConfig):
    name = "programs.staff"
    label = "staff"
