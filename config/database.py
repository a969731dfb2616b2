"""No request waits for a frozen database longer than its worker lives; SQLite is kept informed."""

import sqlite3
import time
from functools import lru_cache
from typing import Any

import psycopg
from django.db import OperationalError
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils.dateparse import parse_date, parse_datetime


def answer_in_time(connection: BaseDatabaseWrapper, seconds: float) -> None:
    """Make a new PostgreSQL connection give up once the server has not answered for so long.

    The server's own time limits hold only as long as the server runs. The connection is closed at
    once: asking it for anything more would wait again.
    """
    raw = connection.connection
    if not isinstance(raw, psycopg.Connection):
        return
    wait = raw.wait

    def wait_in_time(work: Any, *args: Any, **kwargs: Any) -> Any:
        kwargs.setdefault("timeout", seconds)
        try:
            return wait(work, *args, **kwargs)
        except psycopg.errors._WaitTimeout as error:
            raw.close()
            raise psycopg.OperationalError("the database does not answer") from error

    raw.wait = wait_in_time  # type: ignore[assignment,method-assign]


def read_days_once() -> None:
    """Keep the days that SQLite hands over as text: a page's thousands are of a few hundred.

    What a text says never changes, so that nothing of the record is kept here.
    """
    from django.db.backends.sqlite3 import base  # which registers its own when it is imported

    for kind, read in [("date", parse_date), ("datetime", parse_datetime)]:
        sqlite3.register_converter(kind, lru_cache(maxsize=8192)(base.decoder(read)))


class Statistics:
    """Keep what SQLite knows of its tables fresh, between two requests.

    Without statistics it begins a query with everybody a clinic ever saw. They are taken from some
    hundred rows of each index, so that ten years cost no more than one; when the write lock is
    taken meanwhile, the next time will do.
    """

    ROWS = 400  # of each index, as SQLite's documentation of ANALYZE advises (100 to 1000)
    EVERY_SECONDS = 3600

    def __init__(self) -> None:
        self.taken_at: float | None = None

    def keep(self, connection: BaseDatabaseWrapper) -> bool:
        """Take them at the first request of a process, then once an hour; whether it did."""
        if connection.vendor != "sqlite" or connection.in_atomic_block:
            return False
        now = time.monotonic()
        if self.taken_at is not None and now - self.taken_at < self.EVERY_SECONDS:
            return False
        self.taken_at = now
        try:
            with connection.cursor() as cursor:
                cursor.execute(f"PRAGMA analysis_limit = {self.ROWS}")
                cursor.execute("ANALYZE" if self._is_new(cursor) else "PRAGMA optimize")
        except OperationalError:
            return False
        return True

    def _is_new(self, cursor: Any) -> bool:
        cursor.execute("SELECT 1 FROM sqlite_master WHERE name = 'sqlite_stat1'")
        if cursor.fetchone() is None:
            return True
        cursor.execute("SELECT 1 FROM sqlite_stat1 LIMIT 1")
        return cursor.fetchone() is None


STATISTICS = Statistics()
