from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from patients.history import StaleVersion
from patients.models import AuditEvent
from programs.prescription import services
from programs.prescription.models import Prescription
from tests.factories.prescription import PrescriptionFactory, TreatmentPlanFactory

pytestmark = pytest.mark.django_db


def draft(course, **changes):
    given = {
        "enrolment": course,
        "method": "reserve",
        "valid_from": course.starts_on,
        "resting_bpm": 62,
        "peak_bpm": 132,
        "tested_on": course.starts_on,
        "low_share": 0.40,
        "high_share": 0.59,
        "rpe_low": 12,
        "rpe_high": 13,
        "minutes": 30,
    }
    return Prescription(**(given | changes))


def test_reserve_gives_whole_beats_inside_the_range(course, clinician):
    # Karvonen worked example: 90.0 to 103.3; whole beats must not leave the range
    dose = services.prescribe(draft(course), None, by=clinician)
    assert (dose.low_bpm, dose.high_bpm) == (90, 103)


def test_workloads_come_from_the_acsm_equations(course, clinician):
    # Worked examples at 4 METs: 61.05 m/min at 4 % and 50.84 W at 80 kg
    dose = services.prescribe(
        draft(course, target_mets=4, treadmill_grade_percent=4), 80, by=clinician
    )
    assert (dose.treadmill_kmh, dose.cycle_w) == (3.7, 51)


def test_unknown_mass_gives_no_cycle_workload(course, clinician):
    assert services.prescribe(draft(course, target_mets=4), None, by=clinician).cycle_w is None


def test_new_prescription_replaces_the_old_and_keeps_it(course, clinician):
    first = services.prescribe(draft(course), None, by=clinician)
    later = course.starts_on + timedelta(days=14)
    second = services.prescribe(draft(course, valid_from=later), None, by=clinician)
    first.refresh_from_db()
    assert first.replaced_on == later
    assert course.prescriptions.in_force().get() == second


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"peak_bpm": 60}, "above resting"),
        ({"peak_bpm": None}, "needs resting"),
        ({"tested_on": None}, "tested"),
        ({"low_share": 0.7, "high_share": 0.5}, "lower share"),
        ({"upper_limit_bpm": 85}, "above the upper limit"),
        ({"target_mets": 1.0}, "more than 1 MET"),
    ],
)
def test_numbers_that_do_not_fit_are_refused(course, clinician, changes, words):
    with pytest.raises(ValidationError, match=words):
        services.prescribe(draft(course, **changes), 80, by=clinician)
    assert not course.prescriptions.exists()


def test_range_ends_at_the_upper_limit(course, clinician):
    dose = services.prescribe(draft(course, upper_limit_bpm=100), None, by=clinician)
    assert dose.high_bpm == 100


def test_physician_signs_by_prescribing(course, physician):
    dose = services.prescribe(draft(course), None, by=physician)
    assert dose.signed_by == physician


def test_only_a_physician_signs(course, clinician, physician):
    dose, plan = PrescriptionFactory(enrolment=course), TreatmentPlanFactory(enrolment=course)
    with pytest.raises(PermissionDenied):
        services.sign_prescription(dose, by=clinician)
    with pytest.raises(PermissionDenied):
        services.sign_plan(plan, seen=plan.version, by=clinician)
    services.sign_plan(plan, seen=plan.version, by=physician)
    plan.refresh_from_db()
    dose.refresh_from_db()
    assert plan.signed_on == course.patient.site.today()
    assert dose.signed_by == physician
    assert AuditEvent.objects.filter(kind="signature").count() == 2


def test_plan_changed_after_it_was_read_is_not_signed(course, clinician, physician):
    plan = TreatmentPlanFactory(enrolment=course)
    seen = plan.version
    plan.goals = "Something else"
    services.prepare_plan(plan, by=clinician)
    with pytest.raises(StaleVersion):
        services.sign_plan(plan, seen=seen, by=physician)


def test_signed_plan_is_never_touched(course, clinician, physician):
    plan = TreatmentPlanFactory(enrolment=course)
    services.sign_plan(plan, seen=plan.version, by=physician)
    with pytest.raises(ValidationError):
        services.prepare_plan(plan, by=clinician)
    with pytest.raises(ValidationError):
        services.sign_plan(plan, seen=plan.version + 1, by=physician)
