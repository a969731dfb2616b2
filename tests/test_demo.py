"""The demo: whole, plausible beside published figures, quick to open, and safe to call."""

import json
from datetime import date
from io import StringIO
from pathlib import Path
from statistics import mean, stdev

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from config.demo.story import cast
from patients.models import FindKey, Patient
from programs.attendance.models import Finding, Visit
from programs.enrolment.models import CourseTotals, Enrolment, Referral
from programs.staff.models import Site, User
from programs.staff.roles import Role
from reports import totals
from tests.factories.staff import SiteFactory

CLINIC = json.loads(Path("fixtures/demo/clinic.json").read_text(encoding="utf-8"))
TODAY = date(2026, 11, 25)
MOST_QUERIES = 30  # as tests/test_pages.py asks of every page
# Two more on days with somebody to call, one while midnight lies between the demo's sites.
MOST_QUERIES_OF_DUE = MOST_QUERIES + 3
MOST_QUERIES_OF_A_SHEET = 48


def test_same_seed_tells_the_same_story():
    assert cast(CLINIC, TODAY, 36) == cast(CLINIC, TODAY, 36)
    assert cast(CLINIC, TODAY, 36) != cast(CLINIC, TODAY, 37)


@pytest.mark.parametrize("today", [date(2028, 2, 29), date(2027, 1, 1), date(2026, 8, 30)])
def test_story_can_be_told_on_any_day(today):
    people = cast(CLINIC, today, 36)
    assert len(people) >= 120
    assert all(p.event_on <= (p.discharged_on or today) <= today for p in people if not p.starts_on)


@pytest.mark.django_db
def test_demo_refuses_a_database_that_holds_anything_else():
    SiteFactory()
    for options in ({}, {"reset": True}):
        with pytest.raises(CommandError, match="nothing was touched"):
            call_command("demo", no_serve=True, **options)
    assert Site.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_demo_is_whole_plausible_and_quick(client):
    out = StringIO()
    call_command("demo", no_serve=True, stdout=out)
    for role in Role:
        assert role.label in out.getvalue()
    check_contents()
    check_totals()
    check_figures()
    check_queries(client)
    again = StringIO()
    call_command("demo", no_serve=True, stdout=again)
    assert "loaded already" in again.getvalue()


def check_contents():
    assert (Site.objects.count(), User.objects.count()) == (2, 10)
    assert {u.role for u in User.objects.all()} == set(Role.values)
    assert Patient.objects.count() >= 120
    site = Site.objects.first()
    today = site.today()
    waiting = [r.clock(today) for r in Referral.objects.waiting().select_related("condition")]
    assert sum(clock.is_late for clock in waiting) >= 3
    weeks = {e.week_on(today) for e in Enrolment.objects.still_open()}
    assert set(range(1, 13)) <= weeks
    assert Enrolment.objects.filter(pauses__until_on=None, pauses__isnull=False).exists()
    assert len(set(Enrolment.objects.exclude(outcome="").values_list("outcome", flat=True))) >= 5
    states = set(Visit.objects.filter(on=today).values_list("state", flat=True))
    assert {"finished", "exercising", "arrived", "absent"} <= states
    assert Finding.objects.filter(decision="", cleared_at=None).exists()


def check_totals():
    assert not list(totals.differences())
    assert not FindKey.objects.renew(Patient.objects.all(), store=False)


def check_figures():
    """Beside reference figures: Keteyian 2022 (36 sessions 26.9 to 27.6 %, mean 25, SD 12),
    Ritchey 2020 (24.3 % within 21 days), Johnson 2014 and Pack 2013 (mean delay 34 to 42 days)."""
    facts = list(CourseTotals.objects.all())
    ended = [f.sessions for f in facts if f.has_ended and f.sessions]
    assert 0.20 <= sum(n >= 36 for n in ended) / len(ended) <= 0.33
    assert 21 <= mean(ended) <= 28
    assert 8 <= stdev(ended) <= 14
    delays = [f.days_to_start for f in facts if f.days_to_start is not None]
    assert 0.15 <= sum(d <= 21 for d in delays) / len(delays) <= 0.33
    assert 30 <= mean(delays) <= 44


def check_queries(client):
    course = Enrolment.objects.filter(closed_on=None, assessments__isnull=False).first()
    visit = course.visits.filter(state="finished").last()
    pages = [
        ("rokafor", reverse("attendance:today")),
        ("rokafor", reverse("attendance:sheet", args=[visit.pk])),
        ("hvantongeren", reverse("reports:due")),
        ("hvantongeren", reverse("enrolment:referrals")),
        ("hvantongeren", reverse("patients:list")),
        ("hvantongeren", reverse("reports:journey", args=[course.patient_id])),
        ("hvantongeren", reverse("reports:outcomes", args=[course.patient_id])),
        ("hvantongeren", reverse("assessments:course", args=[course.pk])),
        ("hvantongeren", reverse("assessments:record", args=[course.assessments.first().pk])),
        ("hvantongeren", reverse("prescription:prescribe", args=[course.pk])),
        ("hvantongeren", reverse("review:plan", args=[course.pk])),
        ("cfairweather", reverse("reports:program")),
        ("iduarte", reverse("staff:settings")),
        ("iduarte", reverse("staff:looks")),
    ]
    for name, url in pages:
        client.force_login(User.objects.get(username=name))
        client.get(url)
        with CaptureQueriesContext(connection) as captured:
            assert client.get(url).status_code == 200
        most = MOST_QUERIES_OF_A_SHEET if "/visits/" in url else MOST_QUERIES
        most = MOST_QUERIES_OF_DUE if url == "/due/" else most
        assert len(captured) < most, (url, len(captured))


@pytest.mark.django_db
def test_first_account_is_the_administrator_and_can_choose_a_site(client):
    call_command("createsuperuser", username="first", email="", interactive=False)
    first = User.objects.get()
    assert (first.role, first.is_staff) == ("administrator", True)
    site = SiteFactory()
    client.force_login(first)
    assert client.get(reverse("staff:settings")).status_code == 200
    url = reverse("admin:staff_user_change", args=[first.pk])
    client.post(url, {"username": "first", "sites": [site.pk]})
    assert list(first.sites.all()) == [site]
    version = first.history.first()
    assert [row.site for row in version.sites.all()] == [site]
    assert version.history_user == first
    client.post(url, {"username": "first", "sites": [SiteFactory().pk]})
    assert list(first.sites.all()) == [site]
