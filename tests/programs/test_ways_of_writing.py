"""One clock and one date form for a site: on pages, in boxes and on paper; files stay ISO."""

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from programs.attendance.models import ClassMeeting, SafetyEvent, Visit
from tests.factories.attendance import SafetyEventFactory, VisitFactory
from tests.factories.enrolment import PlannedSessionFactory
from tests.factories.patients import ConditionFactory

pytestmark = pytest.mark.django_db
# A zone in which it is about noon: the arrivals of these tests lie behind whoever runs them.
HERE = f"Etc/GMT{datetime.now(UTC).hour - 12:+d}"
ZONE = ZoneInfo(HERE)


@pytest.fixture
def visit(course, site):
    site.hours, site.dates, site.timezone = "12", "mdy", HERE
    site.save()
    planned = PlannedSessionFactory(enrolment=course, slot__starts_at=time(14, 30))
    meeting = ClassMeeting.objects.get(slot=planned.slot)
    at = datetime.combine(site.today(), time(0, 5, 42), ZONE)
    return VisitFactory(enrolment=course, meeting=meeting, state="arrived", arrived_at=at)


def test_pages_and_paper_tell_the_sites_hours(client, nurse, visit):
    client.force_login(nurse)
    today = client.get(reverse("attendance:today")).content.decode()
    assert "2:30 pm" in today
    assert "12:05 am" in today  # who arrived, and since when
    assert "14:30" not in today
    slot, on = visit.meeting.slot_id, visit.on
    plan = client.get(reverse("attendance:plan-of-day", args=[slot]) + f"?on={on}")
    record = client.get(reverse("attendance:session-record", args=[visit.pk]))
    sheet = client.get(reverse("attendance:sheet", args=[visit.pk]))
    for page in (plan, record, sheet):
        assert "2:30 pm" in page.content.decode()
    assert "arrived 12:05 am" in record.content.decode()
    assert 'data-hours="12" data-dates="mdy"' in today


def test_a_site_that_changed_nothing_writes_as_before(client, nurse, visit, site):
    site.hours, site.dates = "24", "iso"
    site.save()
    client.force_login(nurse)
    page = client.get(reverse("attendance:today")).content.decode()
    assert "14:30" in page
    assert " pm" not in page


def correct(client, visit, at, **more):
    url = reverse("attendance:correct-arrival", args=[visit.pk])
    return client.post(url, {"at": at, "seen_version": visit.version} | more)


def test_an_arrival_without_am_or_pm_is_asked_about(client, nurse, visit):
    client.force_login(nurse)
    page = correct(client, visit, "0:03").status_code, Visit.objects.get().arrived_at
    assert timezone.localtime(page[1], ZONE).time() == time(0, 3)
    visit.refresh_from_db()
    refused = correct(client, visit, "12:04").content.decode()
    assert "12:04 am or 12:04 pm? Write it with am or pm." in refused
    assert 'value="12:04"' in refused
    assert correct(client, visit, "12:04 am").status_code == 302
    assert timezone.localtime(Visit.objects.get().arrived_at, ZONE).time() == time(0, 4)


def test_a_time_is_read_in_the_way_its_box_was_shown(client, nurse, visit, site):
    """The site goes from 24 to 12 hours while a form is open."""
    client.force_login(nurse)
    assert correct(client, visit, "0:04", **{"at-as": "iso-24"}).status_code == 302
    ConditionFactory(patient=visit.enrolment.patient, kind="diabetes")
    visit.refresh_from_db()
    data = {"last_meal_at": "2:10", "last_meal_at-as": "iso-24", "shows": "before", "step": "save",
            "seen_version": visit.version}  # fmt: skip
    assert client.post(reverse("attendance:sheet", args=[visit.pk]), data).status_code == 302
    assert Visit.objects.get().last_meal_at == time(2, 10)


def test_a_date_of_the_other_order_is_refused_with_its_reading(client, clinician, visit):
    client.force_login(clinician)
    url = reverse("patients:add-background", args=[visit.enrolment.patient_id, "condition"])
    post = {"condition-kind": "mi", "condition-happened_on": "26/10/2026"}
    page = client.post(url, post).content.decode()
    assert "If it is 26 Oct 2026, write 10/26/2026." in page
    assert 'value="26/10/2026"' in page


def test_an_event_saved_untouched_keeps_its_second(client, clinician, visit, site):
    at = datetime.combine(visit.on, time(0, 7, 31), ZONE)
    event = SafetyEventFactory(
        visit=visit, site=site, patient=visit.enrolment.patient, happened_at=at, what="Felt faint"
    )
    client.force_login(clinician)
    page = client.get(reverse("attendance:event", args=[event.pk]))
    form = page.context["form"]
    assert "12:07 am" in page.content.decode()
    data = {bound.name: bound.value() or "" for bound in form}
    box = form["happened_at"].subwidgets[0].data
    data |= {"happened_at": box["value"], box["beside_name"]: box["beside"]}
    data |= {"outcome": "Went home well", "told": "Dr Lind"}
    client.post(reverse("attendance:event", args=[event.pk]), data)
    kept = SafetyEvent.objects.get()
    assert (kept.outcome, kept.happened_at) == ("Went home well", at)


def test_files_stay_as_machines_read_them(client, clinician, visit):
    client.force_login(clinician)
    url = reverse("enrolment:sessions-file", args=[visit.enrolment_id])
    text = client.get(url).content.decode()
    assert " pm" not in text
    assert f"{visit.on:%Y%m%d}T" in text


def test_days_asked_of_the_program_are_read_in_the_sites_order(client, people, visit):
    client.force_login(people["manager"])
    url = reverse("reports:program")
    page = client.get(url + "?since=11/02/2025&since-as=mdy-12")
    assert f"{page.context['question'].asked.since}" == "2025-11-02"
    assert 'value="11/02/2025"' in page.content.decode()
    wrong = client.get(url + "?since=26/11/2025").content.decode()
    assert "If it is 26 Nov 2025, write 11/26/2025. The figures are of" in wrong


def test_a_site_writes_in_a_way_that_is_known(site):
    site.dates = "ymd"
    with pytest.raises(ValidationError):
        site.full_clean()
