from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

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
    assert services.prescribe(draft(course, target_mets=3), None, by=clinician).cycle_w is None


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
        ({"tested_on": date(2999, 1, 1)}, "future"),
        ({"low_share": 0.7, "high_share": 0.5}, "lower share"),
        ({"upper_limit_bpm": 85}, "above the upper limit"),
        ({"target_mets": 1.0}, "more than 1 MET"),
    ],
)
def test_numbers_that_do_not_fit_are_refused(course, clinician, changes, words):
    with pytest.raises(ValidationError, match=words):
        services.prescribe(draft(course, **changes), 80, by=clinician)
    assert not course.prescriptions.exists()


@pytest.mark.parametrize(
    ("tested", "event", "words"),
    [
        (0, 1, "before the event"),
        (0, 0, ""),
        (-365, None, ""),  # the same day a year before
        (-366, None, "more than a year ago"),
        (-7 * 365, None, "more than a year ago"),
        (-7 * 365, -8 * 365, "more than a year ago"),
        (-3, None, ""),
    ],
)
def test_an_old_test_carries_a_dose_only_with_a_reason(course, clinician, tested, event, words):
    """Before the event, or older than a year: project choice. No leap day lies in that year."""
    since = date(2026, 11, 2)
    condition = course.referral.condition
    condition.happened_on = None if event is None else since + timedelta(days=event)
    condition.save()
    given = {"valid_from": since, "tested_on": since + timedelta(days=tested)}
    if words:
        with pytest.raises(ValidationError, match=words):
            services.prescribe(draft(course, **given), None, by=clinician)
        given["tested_because"] = "cardiologist confirms it of today"
    dose = services.prescribe(draft(course, **given), None, by=clinician)
    assert dose.tested_because == given.get("tested_because", "")


def test_a_reason_for_an_old_test_does_not_outlive_it(course, clinician):
    dose = services.prescribe(draft(course, tested_because="of before"), None, by=clinician)
    assert dose.tested_because == ""


def test_the_page_asks_for_the_reason_beside_its_box(client, clinician, course):
    client.force_login(clinician)
    old = course.starts_on - timedelta(days=7 * 366)
    url = reverse("prescription:prescribe", args=[course.pk])
    typed = {
        "method": "reserve", "resting_bpm": 62, "peak_bpm": 132, "tested_on": old,
        "low_percent": 40, "high_percent": 59, "rpe_low": 12, "rpe_high": 13, "minutes": 30,
        "per_week": 3,
    }  # fmt: skip
    form = client.post(url, typed).context["form"]
    assert "say why it still counts" in form.errors["tested_because"][0]
    assert client.post(url, typed | {"tested_because": "none newer"}).status_code == 302
    page = client.get(url).content.decode()
    assert f"{old:%-d %b %Y}: none newer" in " ".join(page.split()).replace(" :", ":")
    assert client.get(url).context["form"].initial["tested_because"] == "none newer"


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
    services.prepare_plan(plan, seen=seen, by=clinician)
    with pytest.raises(StaleVersion):
        services.sign_plan(plan, seen=seen, by=physician)


def test_older_page_does_not_replace_a_newer_draft(course, clinician):
    plan = TreatmentPlanFactory(enrolment=course)
    seen = plan.version
    services.prepare_plan(plan, seen=seen, by=clinician)
    with pytest.raises(StaleVersion):
        services.prepare_plan(plan, seen=seen, by=clinician)


def test_signed_plan_is_never_touched(course, clinician, physician):
    plan = TreatmentPlanFactory(enrolment=course)
    services.sign_plan(plan, seen=plan.version, by=physician)
    with pytest.raises(ValidationError):
        services.prepare_plan(plan, seen=plan.version + 1, by=clinician)
    with pytest.raises(ValidationError):
        services.sign_plan(plan, seen=plan.version + 1, by=physician)


def test_speed_beyond_the_walking_equation_is_refused_with_a_grade(course, clinician):
    # ACSM walking holds to 100 m/min, 6 km/h, which is 3.86 METs on the level
    services.prescribe(draft(course, target_mets=3.8), None, by=clinician)
    with pytest.raises(ValidationError, match="treadmill grade"):
        services.prescribe(draft(course, target_mets=3.9), None, by=clinician)
    dose = services.prescribe(
        draft(course, target_mets=5, treadmill_grade_percent=5), None, by=clinician
    )
    assert dose.treadmill_kmh <= 6


def test_workloads_outside_their_range_are_marked(course, clinician):
    # 2 METs: 35 m/min, under 50; 3 METs at 80 kg: 25 W, under 300 kg·m/min
    slow = services.prescribe(draft(course, target_mets=2.2), None, by=clinician)
    assert slow.outside_range == "treadmill speed"
    light = services.prescribe(draft(course, target_mets=3), 80, by=clinician)
    assert light.outside_range == "cycle power"


@pytest.mark.parametrize("limit", [None, 130])
def test_upper_limit_is_raised_or_dropped_only_with_a_reason(course, clinician, limit):
    first = {"upper_limit_bpm": 118, "upper_limit_reason": "10 below the ischaemic threshold"}
    services.prescribe(draft(course, **first), None, by=clinician)
    with pytest.raises(ValidationError, match="upper limit of 118"):
        services.prescribe(draft(course, upper_limit_bpm=limit), None, by=clinician)
    dose = services.prescribe(
        draft(course, upper_limit_bpm=limit, upper_limit_reason="stented on 3 March"),
        None,
        by=clinician,
    )
    assert dose.upper_limit_bpm == limit
