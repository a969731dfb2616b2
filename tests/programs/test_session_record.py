"""The record of one session: every value entered, and nobody else on it."""

from datetime import timedelta

import pytest
from django.urls import reverse

from patients.models import AuditEvent
from tests.factories.attendance import (
    BoutFactory,
    CarbohydrateFactory,
    EventEntryFactory,
    FindingFactory,
    InterruptionFactory,
    ReadingFactory,
    RhythmFactory,
    SafetyEventFactory,
    TeachingFactory,
    VisitFactory,
)
from tests.factories.enrolment import (
    EnrolmentFactory,
)
from tests.factories.patients import (
    MedicineFactory,
    PatientFactory,
)
from tests.factories.prescription import PrescriptionFactory
from tests.test_pages import MOST_QUERIES, queries

pytestmark = pytest.mark.django_db


def looked_at(page):
    return set(AuditEvent.objects.filter(kind="look", what=page).values_list("patient", flat=True))


@pytest.fixture
def visit(course, people):
    """A whole session; another person was in the same class."""
    visit = VisitFactory(
        enrolment=course,
        finished=True,
        answers={"chest_pain": False, "dizzy": True, "unsteady": False},
        symptoms="Light-headed on standing.",
        note="Slept badly.",
        has_ecg=True,
    )
    stranger = PatientFactory(site=course.patient.site, family_name="Somebody-Else")
    VisitFactory(enrolment=EnrolmentFactory(patient=stranger), meeting=visit.meeting)
    return visit


def test_record_holds_every_value_that_was_entered(reader, visit):
    ReadingFactory(visit=visit, weight_kg=80.5, temperature_c=36.6, glucose_mgdl=132)
    ReadingFactory(visit=visit, phase="after", heart_rate_bpm=88, systolic_mmhg=None,
                   diastolic_mmhg=None, spo2_percent=None, rpe=13, angina=0)  # fmt: skip
    BoutFactory(visit=visit, grade_percent=2.5, heart_rate_bpm=104, dyspnoea=1)
    BoutFactory(visit=visit, place=2, activity="cycle", power_w=35, is_withdrawn=True)
    BoutFactory(
        visit=visit, place=3, activity="strength", exercise="Leg press", minutes=None, sets=2,
        repetitions=12, load_kg=40.0, in_reserve=5,
    )  # fmt: skip
    RhythmFactory(visit=visit, has_couplets=False, qrs_before_ms=92)
    CarbohydrateFactory(visit=visit, what="juice")
    FindingFactory(visit=visit)
    InterruptionFactory(visit=visit)
    TeachingFactory(enrolment=visit.enrolment, on=visit.on, topic="Salt and fluids")
    event = SafetyEventFactory(
        site=visit.enrolment.patient.site, patient=visit.enrolment.patient, visit=visit
    )
    EventEntryFactory(event=event, words="Sat down, better.")
    PrescriptionFactory(enrolment=visit.enrolment, upper_limit_bpm=140)
    page = reader("session-record", visit.pk)
    for words in (
        "session 1 of 36",
        "CPT 93798",
        "41 session minutes",
        "126/74",
        "80.5 kg (177.5 lb)",
        "36.6",
        "132 mg/dL (7.3 mmol/L)",
        "4.2 km/h, 2.5 % grade",
        "35 W",
        "2 sets, 12 repetitions, 40 kg, 5 repetitions in reserve",
        "entered in error",
        "<b>Yes:</b> Dizzy or light-headed.",
        "No: Chest pain at rest",
        "Not asked: More breathless than usual",
        "Light-headed on standing.",
        "Slept badly.",
        "couplets: no",
        "QRS before, ms: 92",
        "15 g, juice",
        "Systolic 186 is above 180.",
        "<b>Not answered</b>",
        "Not documented yet.",
        "Salt and fluids",
        "Not reviewed yet.",
        "Sat down, better.",
        "upper limit 140 /min",
        "a dash was not measured",
    ):
        assert words in page, words
    assert "Somebody-Else" not in page
    assert looked_at("session record") == {visit.enrolment.patient_id}


def test_record_of_little_shows_gaps_as_gaps(reader, visit):
    page = reader("session-record", visit.pk)
    for words in ("No reading was entered", "No exercise was entered", "nothing noted", "none"):
        assert words in page, words
    assert "Not asked: all of it" in page  # of recovery


def test_record_numbers_by_counted_sessions_before(reader, visit):
    earlier = visit.on - timedelta(days=2)
    VisitFactory(enrolment=visit.enrolment, finished=True, meeting__on=earlier)
    assert "session 2 of 36" in reader("session-record", visit.pk)


def test_record_has_the_prescription_of_its_day(reader, visit):
    old = PrescriptionFactory(enrolment=visit.enrolment, rpe_low=11, replaced_on=visit.on)
    PrescriptionFactory(enrolment=visit.enrolment, valid_from=visit.on, rpe_low=13)
    assert "RPE 13–13" in reader("session-record", visit.pk)
    type(old).objects.filter(pk=old.pk).update(replaced_on=visit.on + timedelta(days=1))
    type(old).objects.exclude(pk=old.pk).update(valid_from=visit.on + timedelta(days=1))
    assert "RPE 11–13" in reader("session-record", visit.pk)


def test_record_is_reached_from_the_list_of_sessions(client, people, visit):
    client.force_login(people["floor"])
    page = client.get(reverse("reports:journey", args=[visit.enrolment.patient_id]))
    assert reverse("attendance:session-record", args=[visit.pk]) in page.content.decode()


def test_record_costs_the_same_for_few_rows_and_for_many(client, people, visit):
    client.force_login(people["floor"])
    url = reverse("attendance:session-record", args=[visit.pk])

    def fill(n):
        for _ in range(n):
            place = visit.bouts.count() + 1
            ReadingFactory(visit=visit)
            BoutFactory(visit=visit, place=place)
            FindingFactory(visit=visit, about=f"@{place}")
            InterruptionFactory(visit=visit)
            patient = visit.enrolment.patient
            event = SafetyEventFactory(site=patient.site, patient=patient, visit=visit)
            EventEntryFactory(event=event)
            MedicineFactory(patient=patient)

    fill(1)
    few = queries(client, url)
    fill(8)
    assert queries(client, url) == few
    assert few < MOST_QUERIES
