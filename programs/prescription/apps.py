from django.apps import AppConfig


class PrescriptionConfig(AppConfig):
    name = "programs.prescription"
    label = "prescription"
