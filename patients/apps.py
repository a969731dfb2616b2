from django.apps import AppConfig


class PatientsConfig(AppConfig):
    name = "patients"
    label = "patients"

    def ready(self) -> None:
        from patients import lookups  # noqa: F401 - registers itself
