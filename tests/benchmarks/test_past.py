"""A page costs what it shows: as much with ten times the past, and no table of it read whole.

The short form of ``python -m tests.benchmarks``: 1,400 enrolments against 10,900, the present the
same. Times are the best of a few, since neighbours on the machine only ever add; what a plan reads
and how many queries there are is exact.
"""

from datetime import UTC, datetime, time, timedelta

import pytest
import time_machine
from django.db import connection

from reports import counting, day_totals, referral_totals, totals
from tests.benchmarks import measuring, pages, past, plans

pytestmark = pytest.mark.django_db(transaction=True)
FEW, MANY = 10, 150  # copies of the demo's past
ROUNDS = 3
# Ten times the past: a page that reads it costs several times as much. The machine is shared, so
# that the bound is wider than the one by hand (``pages.GROWTH``), with a little for what is small.
GROWTH, SLACK = 1.5, 1.0
# These read one narrow row a referral, by design, or the sessions of a year and of the year before.
READS_TOTALS = {
    "Program, a year",
    "Program, ten years, ten sites",
    "reports:program-running",
    "reports:program-export",
}


def shown(client_of):
    """The pages that answer, each by its name."""
    found = {page.name: page for page in pages.pages()}
    return {
        name: page
        for name, page in found.items()
        if measuring.status(client_of[page.role], page.url) == 200
    }


def costs(client_of, rounds=ROUNDS, names=None):
    """Times the floor, and queries, by page."""
    floor = client_of["clinician"]
    return {
        name: (
            measuring.beside_floor(floor, client_of[page.role], page.url, rounds),
            measuring.n_queries(client_of[page.role], page.url),
        )
        for name, page in shown(client_of).items()
        if names is None or name in names
    }


def grown(few, many):
    """Pages that cost more with the past than its bound allows, or more than is kept."""
    found = {
        name: (few[name][0], cost)
        for name, (cost, _) in many.items()
        if name not in READS_TOTALS and cost > GROWTH * few[name][0] + SLACK
    }
    kept = pages.KEPT_BESIDE_FLOOR
    return found | {n: (kept[n], many[n][0]) for n in kept if n in many and many[n][0] > kept[n]}


def read_whole(client_of):
    """Which pages read a table that grows with the past, by the database's own plan."""
    found = {}
    for page in shown(client_of).values():
        client = client_of[page.role]
        with plans.Recorder() as recorder:
            measuring.answer(client, page.url)
        for asked in recorder.asked(is_small=True):
            if asked.whole:
                found.setdefault(page.name, set()).update(asked.whole)
    return found


@pytest.fixture
def clinic(settings):
    """It is noon of a weekday at the demo's clinic: what is measured is of the day it was built on,
    and nobody comes to a class at the weekend."""
    settings.ROOT_URLCONF = "tests.benchmarks.measuring"
    noon = datetime.combine(datetime.now(UTC), time(17), UTC)
    noon -= timedelta(days=max(0, noon.weekday() - 4))
    with time_machine.travel(noon, tick=True):
        past.demo_at_ten_sites()
        past.grow(0, FEW)
        with measuring.one_connection():
            yield
        past.clear()


def test_no_page_grows_with_the_past(clinic):
    clients = pages.clients()
    few, n_few = costs(clients), past.counts()
    past.grow(FEW, MANY)
    many, n_many = costs(clients), past.counts()
    assert n_few["open"] == n_many["open"] > 500
    assert n_many["enrolments"] > 7 * n_few["enrolments"]
    assert len(few) > 60
    assert set(few) == set(many)
    print(connection.vendor, n_many, *sorted((n, round(c, 1), q) for n, (c, q) in many.items()))
    # A neighbour on the machine may have been loud: what looks grown is looked at once more.
    again = grown(few, many)
    assert not (again and grown(few, costs(clients, 3 * ROUNDS, again)))
    more = {name: (few[name][1], n) for name, (_, n) in many.items() if n > few[name][1]}
    assert not more
    assert read_whole(clients) == {}
    assert not list(totals.differences())
    assert not list(referral_totals.differences())
    assert not list(counting.differences())
    assert not list(day_totals.differences())
