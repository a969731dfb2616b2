"""The number beside Due in every header: what must not wait, for the reader, in one query."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from reports.worklists import due_for, n_waiting
from tests.factories.assessments import AssessmentFactory, ConcernFactory
from tests.factories.attendance import (
    FindingFactory,
    InterruptionFactory,
    SafetyEventFactory,
    VisitFactory,
)
from tests.factories.enrolment import EnrolmentFactory
from tests.factories.staff import SiteFactory, UserFactory

pytestmark = pytest.mark.django_db
COUNT = re.compile(r'<span class="count"[^>]*>(\d+)<')


def fill(site):
    """One hold unanswered, one to write up, one concern, one event; and one of each settled."""
    course = EnrolmentFactory(patient__site=site)
    visit = VisitFactory(enrolment=course)
    FindingFactory(visit=visit)
    FindingFactory(visit=visit, cleared_at=timezone.now())
    InterruptionFactory(visit=visit)
    InterruptionFactory(visit=visit, is_taken_back=True)
    ConcernFactory(assessment=AssessmentFactory(enrolment=course))
    SafetyEventFactory(site=site, patient=course.patient)
    SafetyEventFactory(site=site, patient=course.patient, is_withdrawn=True)


@pytest.mark.parametrize(("role", "n"), [("floor", 3), ("clinician", 4), ("physician", 4)])
def test_count_is_that_of_the_rows_of_due_that_must_not_wait(client, people, site, role, n):
    fill(site)
    fill(SiteFactory())  # nobody's business here
    user = people[role]
    due = due_for(user)
    assert n_waiting(user) == n
    assert n == sum(map(len, [due.concerns, due.findings, due.unwritten, due.events]))
    client.force_login(user)
    page = client.get(reverse("attendance:rules")).content.decode()
    assert COUNT.findall(page) == [str(n)]


def test_more_than_the_most_that_is_counted_says_so(client, people, site):
    visit = VisitFactory(enrolment=EnrolmentFactory(patient__site=site))
    for n in range(101):
        FindingFactory(visit=visit, about=f"@{n}")
    client.force_login(people["floor"])
    page = client.get(reverse("attendance:rules")).content.decode()
    assert re.search(r'<span class="count"[^>]*>99\+<', page)


def test_somebody_at_two_sites_has_both_counted(people, site):
    other = SiteFactory()
    fill(site)
    fill(other)
    people["clinician"].sites.add(other)
    assert n_waiting(people["clinician"]) == 8
    nobody = UserFactory(role="clinician", sites=[])
    assert n_waiting(nobody) == 0


def test_nothing_waiting_shows_no_number(client, people):
    client.force_login(people["clinician"])
    assert not COUNT.findall(client.get(reverse("attendance:rules")).content.decode())


@pytest.mark.parametrize(("role", "n"), [("clinician", 1), ("manager", 0), ("administrator", 0)])
def test_count_costs_one_query_and_none_where_it_concerns_nobody(people, site, role, n):
    fill(site)
    user = people[role]
    user.site_ids()
    with CaptureQueriesContext(connection) as captured:
        n_waiting(user)
    assert len(captured) == n
