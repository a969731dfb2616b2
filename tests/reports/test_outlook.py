"""The start outlook's facts come from the clinic's own records; the page answers what if."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from programs.enrolment.models import Closure
from reports.calendar import entries
from reports.outlook import facts_of
from tests.factories.attendance import VisitFactory
from tests.factories.enrolment import (
    ClassSlotFactory,
    EligibilityAnswerFactory,
    EnrolmentFactory,
    PlannedSessionFactory,
    ReferralFactory,
)
from tests.factories.prescription import TreatmentPlanFactory
from tests.factories.staff import UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def clinic(site):
    """Six courses ended after 60 days, two of them never came; two people wait."""
    today = site.today()
    slots = [ClassSlotFactory(site=site, weekday=day, seats=4) for day in (0, 2, 4)]
    for n in range(6):
        course = EnrolmentFactory(
            patient__site=site,
            starts_on=today - timedelta(days=100),
            closed_on=today - timedelta(days=41),
            outcome="completed",
        )
        course.slots.set(slots)
        if n > 1:
            VisitFactory(enrolment=course)
    still = EnrolmentFactory(patient__site=site, starts_on=today - timedelta(days=20))
    still.slots.set(slots)
    VisitFactory(enrolment=still)
    PlannedSessionFactory(enrolment=still, slot=slots[0], on=today + timedelta(days=30))
    ReferralFactory(patient__site=site, confirmed=True)
    ReferralFactory(patient__site=site)
    Closure.objects.create(site=site, on=today + timedelta(days=9), reason="holiday")
    return slots


def test_facts_are_counted_from_the_records(site, clinic):
    found = facts_of(site, site.today(), 5).clinic
    assert found.arrivals_per_day == pytest.approx(9 / 182)  # seven enrolled, two waiting
    assert found.stays_days == (60.0,) * 6
    assert set(found.per_week) == {3}
    assert found.no_show_share == pytest.approx(2 / 7)
    assert sorted(found.ahead) == [0.0, 5]
    assert found.closed_days == {9}
    assert sorted(c.free_from for c in found.classes)[-1] == (0.0, 0.0, 0.0, 31.0)


def test_nobody_found_not_eligible_takes_a_simulated_seat(site):
    for decision in ("eligible", "not_eligible"):
        referral = ReferralFactory(patient__site=site)
        EligibilityAnswerFactory(referral=referral, decision=decision, reason="x")
    assert facts_of(site, site.today(), 5).clinic.ahead == (0.0,)


def test_sessions_a_week_come_in_one_order_so_that_a_page_repeats(site):
    slots = [ClassSlotFactory(site=site, weekday=day) for day in range(3)]
    for n in (3, 1, 2, 0, 3, 1):
        course = EnrolmentFactory(patient__site=site, starts_on=site.today() - timedelta(days=20))
        course.slots.set(slots[:n])
    assert facts_of(site, site.today(), 5).clinic.per_week == (1, 1, 2, 3, 3)


def test_every_assumption_is_printed(site, clinic):
    words = " ".join(facts_of(site, site.today(), 5).assumptions)
    for part in [
        "9 in the last 26 weeks",
        "6 courses ended",
        "2 of 7",
        "classes a week with",
        "1 closed day",
    ]:
        assert part in words


def test_few_observations_are_said(site):
    facts = facts_of(site, site.today(), 5)
    words = " ".join(facts.assumptions)
    assert "only 0 courses ended" in words
    assert "only 0 starts" in words


def ask(client, people, **asked):
    client.force_login(people["manager"])
    return client.get(reverse("reports:outlook"), {"preparing": "5"} | asked)


def test_page_compares_with_one_more_class(client, people, site, clinic):
    page = ask(client, people, **{"first-weekday": "1", "first-at": "14:00", "first-seats": "8"})
    now, wider = page.context["columns"]
    assert "a class on Tuesday at 14:00, 8 seats." in page.content.decode()
    told = " ".join(page.content.decode().split())
    assert f'data-label="Now"> {now.outlook.median_days:.0f} days' in told
    assert f'data-label="What if"> {wider.outlook.p90_days:.0f} days' in told
    assert wider.outlook.share_in_time >= now.outlook.share_in_time
    assert "Assumptions" in page.content.decode()


def test_several_changes_at_once_and_another_set_beside_them(client, people, site, clinic):
    first = {"weekday": "1", "wider": str(clinic[0].pk), "more": "2", "no_shows": "5"}
    asked = {f"first-{name}": value for name, value in first.items()}
    page = ask(client, people, **asked, **{"second-preparing": "0"})
    words = [column.words for column in page.context["columns"]]
    at = f"Monday {clinic[0].starts_at.hour}:{clinic[0].starts_at:%M}"
    assert words == [
        "",
        f"a class on Tuesday, 8 seats; 2 more seats in {at}; 5 % never come",
        "0 days until somebody can start",
    ]
    now, _, quicker = (column.outlook.median_days for column in page.context["columns"])
    assert quicker <= now


def test_a_change_that_cannot_be_is_named_and_not_simulated(client, people, site, clinic):
    page = ask(client, people, **{"first-no_shows": "120", "first-weekday": "1"})
    assert [column.title for column in page.context["columns"]] == ["Now"]
    assert "less than or equal to 100" in page.content.decode()
    page = ask(client, people, **{"first-wider": "999"})
    assert [column.title for column in page.context["columns"]] == ["Now"]


def test_site_without_a_class_says_so(client, people):
    client.force_login(people["manager"])
    assert "no open class" in client.get(reverse("reports:outlook")).content.decode()


def test_calendar_holds_sessions_assessments_and_signatures(site):
    """A-30: signed every 30 days; six weeks and exit, a check every two weeks."""
    course = EnrolmentFactory(patient__site=site, starts_on=site.today())
    PlannedSessionFactory(enrolment=course, on=site.today())
    found = entries(course, site.today())
    start = course.starts_on
    signatures = [(e.on - start).days for e in found if e.kind == "signature"]
    assert signatures == [0, 30, 60]
    TreatmentPlanFactory(
        enrolment=course, signed_on=start + timedelta(days=20), signed_by=UserFactory()
    )
    again = [e for e in entries(course, site.today()) if e.kind == "signature"]
    assert [((e.on - start).days, e.words.split()[-1]) for e in again] == [
        (20, "signed"),
        (50, "due"),
        (80, "due"),
    ]
    names = [e.words for e in found if e.kind == "assessment"]
    assert names[0] == "Baseline assessment"
    assert names[-1] == "Exit assessment"
    assert "Six-week reassessment" in names
    assert names.count("Progress check") == 4
    assert [e.words for e in found if e.kind == "session"] == ["Session 1 of 36"]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's way of telling its plan")
def test_facts_are_read_by_date_or_state_and_never_through_everybody_ever_seen(site, clinic):
    with CaptureQueriesContext(connection) as found:
        facts_of(site, site.today(), 5)
    plans = {}
    with connection.cursor() as cursor:
        for query in found.captured_queries:
            cursor.execute(f"EXPLAIN QUERY PLAN {query['sql']}")
            plans[query["sql"]] = [row[3] for row in cursor.fetchall()]
    assert len(plans) == 10
    for sql, steps in plans.items():
        assert not [s for s in steps if s.startswith("SCAN") or "patient_site_id" in s], sql
