"""SQLite's statistics are there from the first request on, and cost nobody else anything."""

import sqlite3

import pytest
from django.db import connection

from config.database import Statistics
from tests.factories.enrolment import EnrolmentFactory

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL keeps its own"),
]


def known():
    with connection.cursor() as cursor:
        cursor.execute("SELECT COUNT(*) FROM sqlite_master WHERE name = 'sqlite_stat1'")
        if not cursor.fetchone()[0]:
            return 0
        cursor.execute("SELECT COUNT(*) FROM sqlite_stat1")
        return cursor.fetchone()[0]


@pytest.fixture(autouse=True)
def _forgotten():
    EnrolmentFactory()
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE sqlite_master")  # makes the table where it is not there yet
        cursor.execute("DELETE FROM sqlite_stat1")


def test_a_new_database_gets_them_at_the_first_request():
    assert Statistics().keep(connection)
    assert known() > 10


def test_they_are_taken_once_an_hour(monkeypatch):
    clock = [100.0]
    monkeypatch.setattr("config.database.time.monotonic", lambda: clock[0])
    statistics = Statistics()
    assert statistics.keep(connection)
    assert not statistics.keep(connection)
    clock[0] += 3601
    assert statistics.keep(connection)


def test_whoever_writes_is_not_disturbed():
    """The lock is held by another connection: the statistics wait for the next time."""
    name = connection.settings_dict["NAME"]
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 50")
    other = sqlite3.connect(name, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        assert not Statistics().keep(connection)
    finally:
        other.execute("ROLLBACK")
        other.close()
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 20000")
    assert known() == 0
