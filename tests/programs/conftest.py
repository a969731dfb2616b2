"""Reading a page of the floor as its staff do."""

from datetime import time, timedelta

import pytest
import time_machine
from django.urls import reverse

from tests.missed import MONDAY, START, at, came, enrolled


@pytest.fixture
def reader(client, people):
    """Reads a page as floor staff, in one line of text."""
    client.force_login(people["floor"])

    def read(name, pk, query=""):
        response = client.get(reverse(f"attendance:{name}", args=[pk]) + query)
        assert response.status_code == 200
        text = " ".join(response.content.decode().split())
        return text[text.index('<main id="main"') :]

    return read


@pytest.fixture
def clock():
    """It is the day before the course begins."""
    with time_machine.travel(at(START - timedelta(days=1)), tick=False) as traveller:
        yield traveller


@pytest.fixture
def usual(site, clock):
    from tests.factories.enrolment import ClassSlotFactory

    return [ClassSlotFactory(site=site, weekday=n, starts_at=time(9), seats=8) for n in (0, 2, 4)]


@pytest.fixture
def other(site, clock):
    """A class on Thursdays in which nobody is booked."""
    from tests.factories.enrolment import ClassSlotFactory

    return ClassSlotFactory(site=site, weekday=3, starts_at=time(14), seats=1)


@pytest.fixture
def going(site, usual, clinician, clock):
    """A course in its fifth week, on the Monday after twelve sessions."""
    course = enrolled(site, usual, clinician)
    clock.move_to(at(MONDAY))
    came(course, MONDAY)
    return course
