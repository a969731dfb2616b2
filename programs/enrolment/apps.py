from django.apps import AppConfig


class EnrolmentConfig(AppConfig):
    name = "programs.enrolment"
    label = "enrolment"
