"""Something breaks, or the database is away: a calm page with an id, a log that names nobody."""

import io
import json
import logging
import os
import re
import subprocess
import sys
import time

import psycopg
import pytest
from django.db import IntegrityError, InterfaceError, OperationalError, connection

from config.database import answer_in_time

WORKER_SECONDS = 30  # gunicorn's default timeout, after which the browser gets an empty answer


@pytest.fixture
def log(monkeypatch):
    """What the log holds, as the program writes it."""
    kept = io.StringIO()
    for name in ("thirtysix", "django"):
        for handler in logging.getLogger(name).handlers:
            monkeypatch.setattr(handler, "stream", kept)
    return kept


@pytest.fixture
def ask(client, nurse, monkeypatch):
    """Ask for a page whose view raises this error."""
    client.force_login(nurse)
    client.raise_request_exception = False

    def asked(error):
        def breaks(*args, **kwargs):
            raise error

        monkeypatch.setattr("patients.views.page_of", breaks)
        return client.get("/patients/?q=Quillfeather")

    return asked


@pytest.mark.django_db
def test_an_error_is_logged_with_its_trace_and_the_id_of_the_page(ask, log):
    answer = ask(IntegrityError("DETAIL: Key (family_name)=(Quillfeather) already exists."))
    assert answer.status_code == 500
    number = re.search(r"error ([0-9a-f]{8})", answer.content.decode())[1]
    text = log.getvalue()
    assert text.count(f"error {number}, GET of patients:list") == 1
    assert "patients/views.py" in text
    assert "in patient_list" in text
    assert "IntegrityError" in text
    assert "Quillfeather" not in text


@pytest.mark.django_db
def test_two_errors_have_two_ids(ask):
    pages = [ask(ValueError("x")).content for _ in range(2)]
    assert pages[0] != pages[1]


@pytest.mark.django_db
def test_what_led_to_an_error_is_in_the_trace_and_its_words_are_not(ask, log):
    error = RuntimeError("Quillfeather")
    error.__cause__ = KeyError("Quillfeather")
    ask(error)
    assert "builtins.KeyError\ncaused\n" in log.getvalue()
    assert "Quillfeather" not in log.getvalue()


@pytest.mark.django_db
@pytest.mark.parametrize("kind", [OperationalError, InterfaceError])
def test_a_database_that_is_away_gives_a_calm_page(ask, log, kind):
    answer = ask(kind("canceling statement due to statement timeout"))
    assert answer.status_code == 503  # house.js keeps what was typed and tries again
    assert answer["Retry-After"] == "10"
    text = answer.content.decode()
    assert "The database does not answer" in text
    assert re.search(r"error ([0-9a-f]{8})", text)[1] in log.getvalue()


def settings_with(**environment):
    """The database's settings, read in a process of its own."""
    code = (
        "import json; from config import settings as s; d = s.DATABASES['default'];"
        "print(json.dumps({k: d.get(k) for k in ('CONN_HEALTH_CHECKS', 'OPTIONS')}"
        " | {'answer': s.DATABASE_ANSWERS_WITHIN_SECONDS}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(done.stdout)


URL = "postgres://someone@db.example/thirtysix"


def test_pages_wait_for_the_database_less_long_than_a_worker_lives():
    found = settings_with(DATABASE_URL=URL, THIRTYSIX_SERVES_PAGES="1")
    assert found["CONN_HEALTH_CHECKS"] is True
    options = found["OPTIONS"]
    limits = {k: int(v) for k, v in re.findall(r"-c (\w+)=(\d+)s\b", options["options"])}
    assert set(limits) == {"statement_timeout", "lock_timeout"}
    assert max(limits.values()) < found["answer"]
    # The health check of a frozen server, then connecting anew to each of two addresses (localhost
    # has IPv4 and IPv6), twice: once for the page and once more for whatever follows.
    assert found["answer"] + 4 * options["connect_timeout"] < WORKER_SECONDS


def test_migrations_take_their_time_and_health_checks_hold_everywhere():
    found = settings_with(DATABASE_URL=URL, THIRTYSIX_SERVES_PAGES="0")
    assert found["CONN_HEALTH_CHECKS"] is True
    assert not found["OPTIONS"]


def in_a_server(code):
    """What a process prints that has loaded the web entry."""
    environment = {k: v for k, v in os.environ.items() if k != "THIRTYSIX_SERVES_PAGES"}
    command = [sys.executable, "-c", f"import config.wsgi; {code}"]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_the_web_entry_turns_the_limits_on():
    assert in_a_server("from django.conf import settings; print(settings.SERVES_PAGES)") == "True"


def test_the_web_entry_keeps_what_is_loaded_out_of_the_collectors_sight():
    code = "import gc, reports.views as v; print(gc.get_freeze_count(), v in gc.get_objects())"
    n_frozen, is_gone_through = in_a_server(code).split()
    assert int(n_frozen) > 100_000
    assert is_gone_through == "False"


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "postgresql", reason="only PostgreSQL can freeze")
def test_a_server_that_does_not_answer_is_given_up_in_time():
    own = connection.copy()
    own.ensure_connection()
    answer_in_time(own, 0.5)
    began = time.monotonic()
    with pytest.raises(OperationalError, match="does not answer"):
        own.cursor().execute("select pg_sleep(20)")
    assert time.monotonic() - began < 5
    assert isinstance(own.connection, psycopg.Connection)
    assert own.connection.closed
    own.close()
