from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from patients.history import StaleVersion, save_as
from patients.models import AuditEvent
from programs.prescription import services
from programs.prescription.models import DosePolicy, Prescription
from programs.review import services as plans
from programs.review.doses import unsigned_doses
from tests.factories.patients import BodyWeightFactory, DeviceFactory, MedicineFactory
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
    # Worked down to what the machines can be set to: 3.66 km/h and 50.84 W
    dose = services.prescribe(
        draft(course, target_mets=4, treadmill_grade_percent=4), 80, by=clinician
    )
    assert (dose.treadmill_kmh, dose.cycle_w) == (3.6, 50)


def test_unknown_mass_gives_no_cycle_workload(course, clinician):
    assert services.prescribe(draft(course, target_mets=3), None, by=clinician).cycle_w is None


def test_new_prescription_replaces_the_old_and_keeps_it(course, physician):
    first = services.prescribe(draft(course), None, by=physician)
    later = course.starts_on + timedelta(days=14)
    second = services.prescribe(draft(course, valid_from=later), None, by=physician)
    first.refresh_from_db()
    assert first.replaced_on == later
    before = later - timedelta(days=1)
    assert course.prescriptions.in_force(before).get() == first
    assert course.prescriptions.in_force(later).get() == second


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
        plans.sign_plan(plan, seen=plan.version, seen_dose=dose.pk, by=clinician)
    plans.sign_plan(plan, seen=plan.version, seen_dose=dose.pk, by=physician)
    plan.refresh_from_db()
    dose.refresh_from_db()
    assert plan.signed_on == course.patient.site.today()
    assert dose.signed_by == physician
    assert AuditEvent.objects.filter(kind="signature").count() == 2


def test_plan_changed_after_it_was_read_is_not_signed(course, clinician, physician):
    plan = TreatmentPlanFactory(enrolment=course)
    seen = plan.version
    plan.goals = "Something else"
    plans.prepare_plan(plan, seen=seen, by=clinician)
    with pytest.raises(StaleVersion):
        plans.sign_plan(plan, seen=seen, seen_dose=0, by=physician)


def test_older_page_does_not_replace_a_newer_draft(course, clinician):
    plan = TreatmentPlanFactory(enrolment=course)
    seen = plan.version
    plans.prepare_plan(plan, seen=seen, by=clinician)
    with pytest.raises(StaleVersion):
        plans.prepare_plan(plan, seen=seen, by=clinician)


def test_signed_plan_is_never_touched(course, clinician, physician):
    plan = TreatmentPlanFactory(enrolment=course)
    plans.sign_plan(plan, seen=plan.version, seen_dose=0, by=physician)
    with pytest.raises(ValidationError):
        plans.prepare_plan(plan, seen=plan.version + 1, by=clinician)
    with pytest.raises(ValidationError):
        plans.sign_plan(plan, seen=plan.version + 1, seen_dose=0, by=physician)


def test_speed_beyond_the_walking_equation_gets_a_grade_or_says_so(course, clinician):
    # ACSM walking holds to 100 m/min, 6 km/h, which is 3.86 METs on the level
    level = services.prescribe(draft(course, target_mets=3.8), None, by=clinician)
    assert (level.treadmill_kmh, level.treadmill_grade_percent) == (5.8, None)
    # 3.9 METs at 4.8 km/h: (10.15 - 8) / 144 is 1.49 %, 1 % set
    steep = services.prescribe(draft(course, target_mets=3.9), None, by=clinician)
    assert (steep.treadmill_kmh, steep.treadmill_grade_percent) == (4.8, 1)
    typed = draft(course, target_mets=5, treadmill_grade_percent=1)
    dose = services.prescribe(typed, 80, by=clinician)
    assert dose.treadmill_kmh is None
    assert "costs as much" in dose.loads[0]["said"]
    assert dose.cycle_w == 75  # 10.5 x 80 / 11.016 = 76.3 W: the cycle works all the same


def test_workloads_outside_their_range_are_marked(course, clinician):
    # 2.2 METs: 42 m/min, under 50; 3 METs at 80 kg: 25 W, under 300 kg·m/min
    slow = services.prescribe(draft(course, target_mets=2.2), None, by=clinician)
    assert slow.outside_range == "Treadmill"
    light = services.prescribe(draft(course, target_mets=3), 80, by=clinician)
    assert light.outside_range == "Cycle"


@pytest.mark.parametrize("limit", [None, 130])
def test_upper_limit_is_raised_or_dropped_only_with_a_reason(course, physician, clinician, limit):
    first = {"upper_limit_bpm": 118, "upper_limit_reason": "10 below the ischaemic threshold"}
    services.prescribe(draft(course, **first), None, by=physician)
    with pytest.raises(ValidationError, match="upper limit of 118"):
        services.prescribe(draft(course, upper_limit_bpm=limit), None, by=clinician)
    dose = services.prescribe(
        draft(course, upper_limit_bpm=limit, upper_limit_reason="stented on 3 March"),
        None,
        by=clinician,
    )
    assert dose.upper_limit_bpm == limit


# --- signed means signed

BOUNDS = {"most_rpe": 14, "most_minutes": 40, "most_mets": 3.5, "most_bpm": 110}


@pytest.fixture
def signed(course, physician):
    """A dose of 30 minutes that may be raised to 40."""
    given = draft(course, target_mets=3.0, valid_from=course.patient.site.today(), **BOUNDS)
    return services.prescribe(given, 80, by=physician)


def changed(signed, **changes):
    given = {"target_mets": 3.0, "valid_from": signed.valid_from, **BOUNDS}
    return draft(signed.enrolment, **(given | changes))


def in_force(course):
    return course.prescriptions.in_force(course.patient.site.today()).get()


def test_inside_the_signed_limits_a_clinician_changes_it_at_once(signed, course, clinician):
    new = services.prescribe(changed(signed, minutes=40, rpe_high=14), 80, by=clinician)
    assert in_force(course) == new
    assert (new.covered_by, new.is_waiting, new.needs_signature) == (signed, False, False)
    assert not unsigned_doses([course.pk])
    signed.refresh_from_db()
    assert signed.replaced_on == signed.valid_from  # the same day: it is in force on none


@pytest.mark.parametrize("goes_on", [False, True])
def test_beyond_the_signed_limits_it_waits_or_goes_on_unsigned(
    signed, course, clinician, physician, goes_on
):
    if goes_on:
        DosePolicy(site=course.patient.site, unsigned_goes_on=True, source="local").save()
    new = services.prescribe(changed(signed, minutes=41), 80, by=clinician)
    assert new.beyond == "time 41 min, signed: at most 40 min"
    assert (new.is_waiting, new.needs_signature) == (not goes_on, True)
    assert in_force(course) == (new if goes_on else signed)
    [line] = unsigned_doses([course.pk])  # the same minute
    assert (line.beyond, line.waits) == (new.beyond, not goes_on)
    with pytest.raises(PermissionDenied):
        services.sign_prescription(new, by=clinician)
    services.sign_prescription(new, by=physician)
    assert in_force(course) == new
    assert not unsigned_doses([course.pk])
    with pytest.raises(ValidationError, match="already signed"):
        services.sign_prescription(new, by=physician)


def test_the_limits_follow_the_last_signature(signed, course, clinician, physician):
    """A signed lower dose takes the room back."""
    lower = changed(signed, minutes=20, most_minutes=20)
    services.prescribe(lower, 80, by=physician)
    back = services.prescribe(changed(signed, minutes=30), 80, by=clinician)
    assert "time 30 min, signed: at most 20 min" in back.beyond


def test_wider_limits_are_not_signed_by_typing_them(signed, course, clinician):
    new = services.prescribe(changed(signed, most_minutes=60), 80, by=clinician)
    assert new.is_waiting
    assert new.beyond == "limit of time 60 min, signed: at most 40 min"


def test_what_waited_is_gone_once_another_is_written(signed, course, clinician, physician):
    waited = services.prescribe(changed(signed, minutes=50), 80, by=clinician)
    services.prescribe(changed(signed, minutes=35), 80, by=clinician)
    with pytest.raises(ValidationError, match="took its place"):
        services.sign_prescription(waited, by=physician)
    assert in_force(course).minutes == 35
    assert not unsigned_doses([course.pk])


def test_a_plan_is_signed_with_the_dose_that_waits(signed, course, clinician, physician):
    inside = services.prescribe(changed(signed, minutes=35), 80, by=clinician)
    waits = services.prescribe(changed(signed, minutes=50), 80, by=clinician)
    plan = TreatmentPlanFactory(enrolment=course)
    with pytest.raises(StaleVersion):  # the one in force is not the one that is shown
        plans.sign_plan(plan, seen=plan.version, seen_dose=inside.pk, by=physician)
    plans.sign_plan(plan, seen=plan.version, seen_dose=waits.pk, by=physician)
    waits.refresh_from_db()
    assert waits.signed_by == physician
    assert in_force(course) == waits


def test_a_dose_from_a_later_day_leaves_today_alone(signed, course, clinician):
    today = signed.valid_from
    later = services.prescribe(
        changed(signed, minutes=35, valid_from=today + timedelta(days=2)), 80, by=clinician
    )
    assert in_force(course) == signed
    assert course.prescriptions.in_force(today + timedelta(days=2)).get() == later
    now = services.prescribe(changed(signed, minutes=32), 80, by=clinician)
    assert in_force(course) == now
    assert course.prescriptions.in_force(today + timedelta(days=9)).get() == now


def test_a_prescription_is_never_edited(signed, clinician):
    signed.minutes = 60
    with pytest.raises(ValidationError, match="never edited"):
        save_as(signed, by=clinician, reason="by hand")


def test_a_known_limit_is_passed_only_with_a_reason(course, clinician):
    """H-08, from memory: 10 below the detection rate. H-22, from memory: weeks before strength."""
    today = course.patient.site.today()
    DeviceFactory(patient=course.patient, kind="icd", detection_bpm=120, detection_read_on=today)
    condition = course.referral.condition
    condition.kind, condition.happened_on = "cabg", today - timedelta(days=7)
    condition.save()
    given = {"valid_from": today, "tested_on": today, "strength": "light"}
    with pytest.raises(ValidationError) as refused:
        services.prescribe(draft(course, **given), None, by=clinician)
    [words] = refused.value.message_dict["above_because"]
    assert "No upper limit, and 110 /min is 10 below the ICD" in words
    assert "Resistance before" in words
    because = given | {"above_because": "device reprogrammed, surgeon agrees"}
    assert services.prescribe(draft(course, **because), None, by=clinician).above_because
    kept = given | {"upper_limit_bpm": 110, "strength": "", "above_because": "for nothing"}
    assert services.prescribe(draft(course, **kept), None, by=clinician).above_because == ""


def test_minutes_by_machine_add_up_and_are_trained(course, physician):
    typed = [{"kind": "treadmill", "minutes": 20}, {"kind": "cycle", "minutes": 5}]
    with pytest.raises(ValidationError, match="add up to 25 min"):
        services.prescribe(draft(course, target_mets=3.5, loads=typed), 80, by=physician)
    typed[1]["minutes"] = 10
    dose = services.prescribe(draft(course, target_mets=3.5, loads=typed), 80, by=physician)
    assert [(one["kind"], one["minutes"]) for one in dose.loads] == [
        ("treadmill", 20),
        ("cycle", 10),
    ]
    assert dose.loads[0]["speed_kmh"] == 5.2  # 87.5 m/min is 5.25 km/h, rounded down


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"method": "rest", "resting_bpm": 72}, (92, 102)),  # H-03: rest +20 to +30
        ({"method": "rest", "resting_bpm": 72, "upper_limit_bpm": 95}, (92, 95)),
        ({"method": "rest", "resting_bpm": 72, "upper_limit_bpm": 90}, "above the upper limit"),
        ({"method": "rest", "resting_bpm": None}, "needs the resting rate"),
        ({"method": "talk"}, (None, None)),
        ({"method": "uptake", "peak_vo2": 20}, (None, None)),
        ({"method": "uptake"}, "needs the peak uptake"),
        ({"method": "uptake", "peak_vo2": 20, "target_mets": 3.8}, (None, None)),  # 59 % is 3.78
        ({"method": "uptake", "peak_vo2": 20, "target_mets": 3.9}, "above 59 %"),
        ({"method": "uptake", "peak_vo2": 20, "low_share": 0.8}, "lower share"),
    ],
)
def test_each_way_gives_its_range_or_says_why_not(course, clinician, changes, expected):
    given = draft(course, **changes)
    if isinstance(expected, str):
        with pytest.raises(ValidationError, match=expected):
            services.prescribe(given, None, by=clinician)
        return
    dose = services.prescribe(given, None, by=clinician)
    assert (dose.low_bpm, dose.high_bpm) == expected


def test_a_change_in_the_person_flags_the_dose(client, clinician, signed, course):
    client.force_login(clinician)
    url = reverse("prescription:prescribe", args=[course.pk])
    assert client.get(url).context["review"] == ()
    MedicineFactory(patient=course.patient, name="Metoprolol", drug_class="beta_blocker")
    BodyWeightFactory(patient=course.patient, on=signed.valid_from, kg=80)
    assert client.get(url).context["review"] == ("medicine new: Metoprolol",)
    services.prescribe(changed(signed), 80, by=clinician)  # looked at, the same again
    assert client.get(url).context["review"] == ()
    BodyWeightFactory(patient=course.patient, on=signed.valid_from, kg=84)
    assert client.get(url).context["review"] == ("weight +5 %",)


@pytest.mark.parametrize(
    ("page", "typed", "words"),
    [
        ("treadmill", {"most_grade": "31"}, "Grades go in steps of 0.1 to 5, up to 30"),
        ("treadmill", {"least": "0"}, "A speed is above 0"),
        ("treadmill", {"most": "0.5"}, "from a smaller to a larger number"),
        ("stepper", {"most_grade": "", "height_cm": ""}, "needs the height of its step"),
        ("", {"highest_percent": "96"}, "40 to 95 per cent"),
        ("", {"icd_margin_bpm": "16"}, "10 to 15 /min are in use"),
    ],
)
def test_a_setting_of_a_site_outside_its_bounds_is_refused(client, people, page, typed, words):
    client.force_login(people["administrator"])
    machine = {"is_in_use": "on", "least": "5", "most": "12", "step": "0.1", "seen_version": "0"}
    policy = {"highest_rpe": "16", "highest_percent": "80", "icd_margin_bpm": "10",
              "most_minutes": "45", "source": "own protocol", "seen_version": "0"}  # fmt: skip
    url = (
        reverse("prescription:edit-machine", args=[page])
        if page
        else reverse("prescription:edit-policy")
    )
    answer = client.post(url, (machine if page else policy) | typed)
    assert words in answer.content.decode()
