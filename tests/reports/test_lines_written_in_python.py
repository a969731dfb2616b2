"""Lines that Python writes: what was typed stands in them as text, and leads where it should."""

import sqlite3
from datetime import date, timedelta

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from patients.models import Patient
from tests.factories.assessments import AssessmentFactory, ConcernFactory
from tests.factories.attendance import (
    BoutFactory,
    FindingFactory,
    InterruptionFactory,
    ReadingFactory,
    SafetyEventFactory,
    VisitFactory,
)
from tests.factories.enrolment import EnrolmentFactory, PlannedSessionFactory, ReferralFactory
from tests.factories.patients import PatientFactory
from tests.factories.staff import CredentialFactory, UserFactory

pytestmark = pytest.mark.django_db
TYPED, AS_TEXT = "<script>x('&\")</script>", "&lt;script&gt;x(&#x27;&amp;&quot;)&lt;/script&gt;"


@pytest.fixture
def odd(site):
    """Somebody whose names are markup, with a line in every list."""
    person = PatientFactory(site=site, given_name=TYPED, family_name=TYPED)
    nurse = UserFactory(first_name=TYPED, last_name=TYPED, sites=[site])
    days_ago = site.today() - timedelta(days=29)
    course = EnrolmentFactory(patient=person, starts_on=days_ago, clinician=nurse)
    planned = PlannedSessionFactory(enrolment=course)
    visit = VisitFactory(enrolment=course, meeting=planned.slot.meetings.get(), state="held")
    ReadingFactory(visit=visit)
    BoutFactory(visit=visit)
    FindingFactory(visit=visit, level=3, sentence=TYPED, source=TYPED, origin=TYPED)
    InterruptionFactory(visit=visit, by=nurse)
    SafetyEventFactory(site=site, patient=person)
    ConcernFactory(assessment=AssessmentFactory(enrolment=course), sentence=TYPED, owner=nurse)
    ReferralFactory(patient=PatientFactory(site=site, given_name=TYPED), owner=nurse)
    CredentialFactory(user=nurse)
    return person


def html(client, name, *keys):
    return " ".join(client.get(reverse(name, args=keys)).content.decode().split())


def test_nothing_typed_becomes_markup(client, clinician, odd):
    client.force_login(clinician)
    course = odd.enrolments.get()
    course.clinician = clinician
    course._change_reason, course._history_user = TYPED, clinician
    course.save()
    changed = Patient.objects.get(pk=odd.pk)
    changed.emergency_name = TYPED
    changed.save()
    pages = {
        "due": html(client, "reports:due"),
        "referrals": html(client, "enrolment:referrals"),
        "overview": html(client, "reports:journey", odd.pk),
        "changes": html(client, "reports:changes", odd.pk),
    }
    assert not [name for name, page in pages.items() if TYPED in page or "<script>x" in page]
    assert {name: AS_TEXT in page for name, page in pages.items()} == dict.fromkeys(pages, True)
    assert f"<b>{AS_TEXT}</b>" in pages["changes"]


def test_each_line_of_due_leads_to_its_row(client, clinician, odd):
    client.force_login(clinician)
    page = html(client, "reports:due")
    course = odd.enrolments.get()
    visit, event = course.visits.get(), odd.events.get()
    concern = course.assessments.get().concerns.get()
    led = [
        ("assessments:concern", concern.pk, "Open"),
        ("attendance:sheet", visit.pk, "Decide"),
        ("attendance:sheet", visit.pk, "Document"),
        ("attendance:event", event.pk, "Review"),
        ("review:plan", course.pk, "Open plan"),
    ]
    for name, key, words in led:
        assert f'<a class="press" href="{reverse(name, args=[key])}">{words}</a>' in page, words


def test_a_form_in_a_line_is_taken(client, clinician, site):
    """Its token is the page's own: without it the press would be refused."""
    course = EnrolmentFactory(patient__site=site, starts_on=site.today())
    client.force_login(clinician)
    client.handler.enforce_csrf_checks = True
    page = html(client, "reports:due")
    url = reverse("assessments:take", args=[course.pk])
    form = page.split(f'action="{url}">')[1].split("</form>")[0]
    token = form.split('name="csrfmiddlewaretoken" value="')[1].split('"')[0]
    assert client.post(url, {"csrfmiddlewaretoken": token}).status_code == 302
    course.refresh_from_db()
    assert course.clinician == clinician


def test_a_long_text_of_a_change_is_cut_as_elsewhere(client, clinician, odd):
    from django.template.defaultfilters import truncatechars

    client.force_login(clinician)
    for n, text in enumerate(["é" * 70, "a" * 80, "b" * 81, "ö" * 81, "e\u0301" * 41]):
        person = Patient.objects.get(pk=odd.pk)
        person.emergency_relation, person.language = "", ""
        person.emergency_name = f"{n}{text}"
        person.save()
        page = html(client, "reports:changes", odd.pk)
        assert f"<b>{truncatechars(person.emergency_name, 80)}</b>" in page


def test_sessions_of_the_overview_say_what_was_measured(client, clinician, odd):
    client.force_login(clinician)
    visit = odd.enrolments.get().visits.get()
    before = visit.readings.get()
    page = html(client, "reports:journey", odd.pk)
    line = page.split(f'<a href="{reverse("attendance:session-record", args=[visit.pk])}">')[1]
    line = line.split("</tr>")[0]
    assert line.startswith(f"{visit.on:%a %-d %b %Y}</a></td>")
    assert f"<td>{before.pressure}</td>" in line
    assert f'href="{reverse("attendance:sheet", args=[visit.pk])}" aria-label="' in page


@pytest.mark.skipif("connection.vendor != 'sqlite'")
def test_days_kept_are_the_days_stored():
    """The reader of days that SQLite's rows go through, asked twice for the same text."""
    raw = sqlite3.connect(":memory:", detect_types=sqlite3.PARSE_DECLTYPES)
    raw.execute("CREATE TABLE t (d date, at datetime)")
    at = timezone.now().replace(microsecond=120, tzinfo=None)
    for day in [date(2024, 2, 29), date(1900, 1, 1), None]:
        raw.execute("INSERT INTO t VALUES (?, ?)", (day, at))
    for _ in range(2):
        found = raw.execute("SELECT d, at FROM t ORDER BY rowid").fetchall()
        assert found == [(date(2024, 2, 29), at), (date(1900, 1, 1), at), (None, at)]
    assert connection.vendor == "sqlite"
