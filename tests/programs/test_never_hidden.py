"""What must not wait stands first until it is closed; what nobody signed says so everywhere."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from programs.attendance.today.lines import alerts_of
from programs.attendance.today.queries import day_of
from programs.attendance.visit import services
from programs.enrolment.models import Pause
from programs.review.queries import without_plan
from tests.factories.assessments import AssessmentFactory, ConcernFactory
from tests.factories.attendance import VisitFactory
from tests.factories.enrolment import RiskStratificationFactory
from tests.factories.patients import ConditionFactory, DeviceFactory, ProcedureFactory
from tests.factories.prescription import PrescriptionFactory, TreatmentPlanFactory

pytestmark = pytest.mark.django_db


def row_of(planned):
    day = day_of(planned.slot.site, planned.on, planned.slot_id)
    return next(row for row in day.rows if row.planned.pk == planned.pk)


@pytest.fixture
def concern(course):
    return ConcernFactory(
        assessment=AssessmentFactory(enrolment=course), sentence="Item 9 was answered."
    )


PAGES = {
    "sheet": lambda v: ("attendance:sheet", v.pk),
    "journey": lambda v: ("reports:journey", v.enrolment.patient_id),
    "prescription": lambda v: ("prescription:prescribe", v.enrolment_id),
    "plan": lambda v: ("review:plan", v.enrolment_id),
}


@pytest.mark.parametrize("where", PAGES)
def test_open_concern_stands_first_until_it_is_closed(client, people, planned, concern, where):
    visit = services.arrive(planned, by=people["floor"])
    client.force_login(people["clinician"])
    name, pk = PAGES[where](visit)
    page = client.get(reverse(name, args=[pk])).content.decode()
    first = page.index("Speak with today")
    assert first < (page.index('id="live"') if where == "sheet" else page.rindex("<h2"))
    assert first < page.index('id="sheet"' if where == "sheet" else 'class="tabs"')
    concern.closed_at, concern.closed_by = timezone.now(), people["clinician"]
    concern.outcome = "talked, safe plan made"
    concern.save()
    page = client.get(reverse(name, args=[pk])).content.decode()
    assert "Speak with today" not in page


def test_open_concern_is_the_first_word_of_the_row(planned, concern):
    assert alerts_of(row_of(planned))[0].text == "Speak with today"


def test_a_pause_is_the_first_word_of_who_is_planned_all_the_same(client, people, planned):
    course, day = planned.enrolment, planned.on
    paused = {"enrolment": course, "from_on": day - timedelta(days=9), "reason": "chest infection"}
    pause = Pause.objects.create(**paused)
    alerts = alerts_of(row_of(planned))
    assert (alerts[0].look, alerts[0].text.split(":")[1]) == ("hold", " chest infection")
    client.force_login(people["floor"])
    for name in ["attendance:today", "attendance:plan-of-day"]:
        address = reverse(name) if name.endswith("today") else reverse(name, args=[planned.slot_id])
        page = client.get(address).content.decode()
        assert "chest infection" in page, name
    pause.until_on = day  # the first day back
    pause.save()
    assert row_of(planned).paused == ""


def test_unsigned_dose_is_marked_on_the_row(planned):
    dose = PrescriptionFactory(enrolment=planned.enrolment)
    assert "dose not signed" in row_of(planned).warnings
    dose.signed_at, dose.signed_by = timezone.now(), dose.by
    dose.save()
    assert "dose not signed" not in row_of(planned).warnings


@pytest.mark.parametrize(("days", "flagged"), [(1, True), (-1, False)])
def test_a_detection_rate_read_anew_flags_the_dose(planned, days, flagged):
    PrescriptionFactory(enrolment=planned.enrolment)
    DeviceFactory(
        patient=planned.enrolment.patient,
        detection_bpm=150,
        detection_read_on=planned.on + timedelta(days=days),
    )
    said = "detection rate read anew: review the dose" in row_of(planned).warnings
    assert said is flagged


def test_a_rate_read_anew_stands_on_the_prescription(client, people, course):
    PrescriptionFactory(enrolment=course)
    on = course.patient.site.today() + timedelta(days=1)
    DeviceFactory(patient=course.patient, detection_bpm=150, detection_read_on=on)
    client.force_login(people["clinician"])
    page = client.get(reverse("prescription:prescribe", args=[course.pk])).content.decode()
    assert "review the upper limit" in page


def old(row):
    type(row).objects.filter(pk=row.pk).update(at=timezone.now() - timedelta(days=40))


@pytest.mark.parametrize("kind", ["condition", "operation"])
def test_a_class_of_risk_of_before_the_event_counts_for_nothing(planned, kind):
    patient = planned.enrolment.patient
    old(RiskStratificationFactory(patient=patient, decided="low", computed="low"))
    patient.conditions.update(happened_on=planned.on - timedelta(days=90))
    assert any("low risk" in flag for flag in row_of(planned).flags)
    on = planned.on - timedelta(days=5)
    if kind == "condition":
        ConditionFactory(patient=patient, kind="mi", happened_on=on)
    else:
        ProcedureFactory(patient=patient, kind="pci", performed_on=on)
    row = row_of(planned)
    assert not any("low risk" in flag for flag in row.flags)
    assert "risk is of before the last event: stratify again" in row.warnings


def test_heart_failure_on_the_row_is_what_the_rules_know(planned):
    referral = planned.enrolment.referral
    referral.nyha_class = 3
    referral.save()
    assert "heart failure" in row_of(planned).flags


def test_overdue_plan_stands_in_next(client, people, course):
    client.force_login(people["clinician"])
    page = client.get(reverse("reports:journey", args=[course.patient_id])).content.decode()
    assert "plan signature" in page


@pytest.mark.parametrize(
    ("signed_days_ago", "is_listed"),
    [(None, True), (0, False), (30, False), (31, True)],  # 42 CFR 410.49: every 30 days
)
def test_sessions_without_a_valid_plan_are_listed(course, clinician, signed_days_ago, is_listed):
    visit = VisitFactory(enrolment=course, finished=True, meeting__slot__site=course.patient.site)
    if signed_days_ago is not None:
        TreatmentPlanFactory(
            enrolment=course, signed_by=clinician,
            signed_on=visit.on - timedelta(days=signed_days_ago),
        )  # fmt: skip
    found = without_plan(clinician, visit.on - timedelta(days=7), visit.on)
    assert bool(found) is is_listed


def test_a_plan_signed_after_the_session_covers_nothing_before(course, clinician):
    visit = VisitFactory(enrolment=course, finished=True, meeting__slot__site=course.patient.site)
    TreatmentPlanFactory(
        enrolment=course, signed_by=clinician, signed_on=visit.on + timedelta(days=1)
    )
    assert len(without_plan(clinician, visit.on, visit.on)) == 1
