"""The house itself: the demo command and the system checks."""

from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.contrib.admin.apps import AdminConfig
from django.core.signals import request_finished
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.signals import connection_created


class HouseConfig(AppConfig):
    name = "config"
    label = "house"
    verbose_name = "Thirtysix"

    def ready(self) -> None:
        if connection.vendor == "sqlite":
            _read_days_once()
        if settings.SERVES_PAGES:
            connection_created.connect(_limit_waiting, dispatch_uid="answer in time")
            request_finished.connect(_keep_statistics, dispatch_uid="keep statistics")


def _limit_waiting(connection: BaseDatabaseWrapper, **kwargs: Any) -> None:
    from config.database import answer_in_time  # psycopg, where there is PostgreSQL only

    if connection.vendor == "postgresql":
        answer_in_time(connection, settings.DATABASE_ANSWERS_WITHIN_SECONDS)


def _read_days_once() -> None:
    from config.database import read_days_once

    read_days_once()


def _keep_statistics(**kwargs: Any) -> None:
    from config.database import STATISTICS

    STATISTICS.keep(connection)


class OurAdminConfig(AdminConfig):
    """``django.contrib.admin`` behind our own sign-in."""

    default_site = "programs.staff.admin_site.OurAdminSite"
