"""The plan of the day of a class: targets, what to watch, what to ask of whom."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from patients.models import AuditEvent
from tests.factories.assessments import AssessmentFactory, MeasurementFactory
from tests.factories.attendance import (
    PersonLimitFactory,
)
from tests.factories.enrolment import (
    ClassChangeFactory,
    ClassSlotFactory,
    EntryScreenFactory,
    PlannedSessionFactory,
)
from tests.factories.patients import (
    DeviceFactory,
    MedicineFactory,
)
from tests.factories.prescription import PrescriptionFactory
from tests.test_pages import MOST_QUERIES, fill_class, queries

pytestmark = pytest.mark.django_db


def looked_at(page):
    return set(AuditEvent.objects.filter(kind="look", what=page).values_list("patient", flat=True))


def plan_row(page, patient):
    """The row of one person in the table."""
    start = page.index(f"{patient.given_name} {patient.family_name}</a>")
    return page[start : page.index("</tr>", start)]


def test_plan_names_targets_what_to_watch_and_what_to_ask(reader, planned):
    patient, course = planned.enrolment.patient, planned.enrolment
    DeviceFactory(patient=patient, detection_bpm=150, detection_read_on=date(2026, 1, 5))
    MedicineFactory(patient=patient, name="insulin lispro", drug_class="insulin")
    PersonLimitFactory(patient=patient)
    PrescriptionFactory(
        enrolment=course, low_bpm=96, high_bpm=106, upper_limit_bpm=140, upper_limit_reason="ICD"
    )
    row = plan_row(reader("plan-of-day", planned.slot_id), patient)
    for words in (
        "96–106 /min",
        "RPE 12–13, 30 min",
        "upper limit 140 /min",
        "detects from 150 /min",
        "dose not signed",
        "Patient-specific limit, Hold: Systolic before exercise &gt; 150 mmHg",
        "glucose, asked for because insulin",
        "Shock from the defibrillator",
        "the entry screen",
    ):
        assert words in row, words


def test_plan_says_what_is_missing_and_never_that_it_is_fine(reader, planned):
    row = plan_row(reader("plan-of-day", planned.slot_id), planned.enrolment.patient)
    assert "no prescription" in row
    assert "risk not stratified" in row
    PrescriptionFactory(enrolment=planned.enrolment)
    row = plan_row(reader("plan-of-day", planned.slot_id), planned.enrolment.patient)
    assert "upper limit not recorded" in row


def test_diabetes_told_by_hba1c_alone_is_asked_about(reader, planned):
    EntryScreenFactory(patient=planned.enrolment.patient, decision="may_start", found="nothing")
    baseline = AssessmentFactory(enrolment=planned.enrolment)
    hba1c = MeasurementFactory(assessment=baseline, key="hba1c", value=6.4)
    row = plan_row(reader("plan-of-day", planned.slot_id), planned.enrolment.patient)
    assert "glucose" not in row
    type(hba1c).objects.filter(pk=hba1c.pk).update(value=6.5)
    row = plan_row(reader("plan-of-day", planned.slot_id), planned.enrolment.patient)
    assert "glucose, asked for because of diabetes" in row


def test_plan_holds_this_class_on_this_day_alone(reader, planned, site):
    other = PlannedSessionFactory(
        enrolment__patient__site=site, slot=ClassSlotFactory(site=site, starts_at="15:00")
    )
    page = reader("plan-of-day", planned.slot_id)
    assert other.enrolment.patient.family_name not in page
    assert looked_at("plan of the day") == {planned.enrolment.patient_id}
    later = planned.on + timedelta(days=1)
    assert "Nobody is planned" in reader("plan-of-day", planned.slot_id, f"?on={later}")


def test_plan_names_the_staff_once_the_class_is_open(reader, planned, people):
    meeting = planned.slot.meetings.get()
    meeting.opened_at = None
    meeting.save()
    assert "Not open yet" in reader("plan-of-day", planned.slot_id)
    meeting.opened_at, meeting.opened_by = timezone.now(), people["floor"]
    meeting.supervisor = people["physician"]
    meeting.save()
    meeting.staff.set([people["floor"], people["clinician"]])
    page = reader("plan-of-day", planned.slot_id)
    assert f"Supervising: {people['physician']}" in page
    assert str(people["floor"]) in page
    assert str(people["clinician"]) in page


def test_plan_of_a_cancelled_class_says_so(reader, planned):
    ClassChangeFactory(slot=planned.slot, on=planned.on, is_cancelled=True, reason="no staff")
    assert "cancelled on this day: no staff" in reader("plan-of-day", planned.slot_id)


def test_plan_costs_the_same_for_three_and_for_thirty(client, people, site):
    slot = ClassSlotFactory(site=site, seats=40)
    client.force_login(people["floor"])
    url = reverse("attendance:plan-of-day", args=[slot.pk])
    fill_class(slot, 3)
    few = queries(client, url)
    fill_class(slot, 27)
    assert queries(client, url) == few
    assert few < MOST_QUERIES
