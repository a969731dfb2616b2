"""Drafting a prescription from results: first values, the upper limit, the threshold."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from assessments import services
from tests.factories.assessments import AssessmentFactory
from tests.factories.patients import DeviceFactory, MedicineFactory
from tests.factories.prescription import PrescriptionFactory

pytestmark = pytest.mark.django_db
TEST = {
    "vo2": 20.0,
    "peak_bpm": 132,
    "resting_bpm": 62,
    "vt1_vo2": 12.0,
    "vt1_bpm": 98,
    "ischaemia_bpm": 120,
}


@pytest.fixture
def tested(course, clinician):
    def run(days=0, kind="baseline", **entries):
        row = AssessmentFactory(enrolment=course, kind=kind)
        on = course.starts_on + timedelta(days=days)
        services.record(row, on, entries, seen=row.version, key=None, by=clinician)
        return row

    return run


def initial(client, course):
    return client.get(reverse("prescription:prescribe", args=[course.pk])).context["form"].initial


def test_a_test_fills_in_rates_work_and_upper_limit(client, clinician, course, tested):
    tested(peak_oxygen_uptake=TEST)
    client.force_login(clinician)
    found = initial(client, course)
    assert (found["method"], found["resting_bpm"], found["peak_bpm"]) == ("reserve", 62, 132)
    assert found["tested_on"] == course.starts_on
    assert found["target_mets"] == 2.9
    # H-07: ten below the ischaemic threshold, from memory
    assert found["upper_limit_bpm"] == 110
    assert "ischaemic" in found["upper_limit_reason"]
    page = client.get(reverse("prescription:prescribe", args=[course.pk])).content.decode()
    assert "First threshold at 98 /min, 60 % of the peak uptake" in page


def test_the_lower_of_defibrillator_and_ischaemia_limits(client, clinician, course, tested):
    known = {"detection_bpm": 115, "detection_read_on": course.starts_on}
    DeviceFactory(patient=course.patient, kind="icd", **known)
    tested(peak_oxygen_uptake=TEST)
    client.force_login(clinician)
    assert initial(client, course)["upper_limit_bpm"] == 105


def test_a_lower_limit_in_force_is_never_raised_by_a_test(client, clinician, course, tested):
    PrescriptionFactory(enrolment=course, upper_limit_bpm=100, upper_limit_reason="cardiologist")
    tested(peak_oxygen_uptake=TEST)
    client.force_login(clinician)
    found = initial(client, course)
    assert (found["upper_limit_bpm"], found["upper_limit_reason"]) == (100, "cardiologist")


def test_a_newer_test_without_ischaemia_takes_no_limit_back(client, clinician, course, tested):
    tested(peak_oxygen_uptake=TEST)
    newer = {name: value for name, value in TEST.items() if name != "ischaemia_bpm"}
    tested(9, "six_weeks", peak_oxygen_uptake=newer)
    client.force_login(clinician)
    assert initial(client, course)["upper_limit_bpm"] == 110  # H-07: ten below 120
    page = client.get(reverse("prescription:prescribe", args=[course.pk])).content.decode()
    assert "the lowest since the event counts" in page


def test_a_threshold_from_before_the_event_or_in_error_counts_no_more(
    client, clinician, course, tested
):
    row = tested(peak_oxygen_uptake=TEST)
    client.force_login(clinician)
    condition = course.referral.condition
    condition.happened_on = course.starts_on + timedelta(days=1)  # revascularised since
    condition.save()
    tested(9, "six_weeks", resting_heart_rate={"heart_rate_bpm": 66})
    newer = {name: value for name, value in TEST.items() if name != "ischaemia_bpm"}
    tested(9, "exit", peak_oxygen_uptake=newer)
    assert "upper_limit_bpm" not in initial(client, course)
    condition.happened_on = course.starts_on
    condition.save()
    assert initial(client, course)["upper_limit_bpm"] == 110
    services.mark_in_error(row.measurements.get(), "another person's", by=clinician)
    assert "upper_limit_bpm" not in initial(client, course)


def test_a_pulse_at_rest_since_the_dose_is_told_and_raises_nothing(
    client, clinician, course, tested
):
    day = course.starts_on
    rates = {"resting_bpm": 62, "peak_bpm": 132, "low_bpm": 90, "high_bpm": 103}
    PrescriptionFactory(enrolment=course, valid_from=day, method="reserve", tested_on=day, **rates)
    tested(9, "six_weeks", resting_heart_rate={"heart_rate_bpm": 84})
    client.force_login(clinician)
    assert initial(client, course)["resting_bpm"] == 62
    page = client.get(reverse("prescription:prescribe", args=[course.pk])).content.decode()
    assert re.search(r"at rest 84 /min\s+on .*, this dose was written on 62", page)


def test_a_test_of_another_year_is_told_with_its_year(client, clinician, course):
    old = course.starts_on.replace(year=course.starts_on.year - 7, day=20)
    tested = {"resting_bpm": 62, "peak_bpm": 132, "low_bpm": 90, "high_bpm": 103}
    PrescriptionFactory(enrolment=course, method="reserve", tested_on=old, **tested)
    client.force_login(clinician)
    page = client.get(reverse("reports:journey", args=[course.patient_id])).content.decode()
    assert re.search(rf"tested\s+{old:%-d %b %Y}</span>\s*<details class=\"why\">.*Karvonen", page)


def test_only_what_is_newer_than_the_dose_changes_its_values(client, clinician, course, tested):
    tested(peak_oxygen_uptake=TEST)
    later = course.starts_on + timedelta(days=1)
    PrescriptionFactory(enrolment=course, valid_from=later, target_mets=4.2)
    client.force_login(clinician)
    assert initial(client, course)["target_mets"] == 4.2
    tested(10, "six_weeks", peak_oxygen_uptake=TEST | {"vo2": 24.0})
    assert initial(client, course)["target_mets"] == 3.3  # (3.5 + 0.4 x 20.5) / 3.5


def test_a_test_older_than_the_dose_in_force_changes_nothing_of_it(
    client, clinician, course, tested
):
    """A clinician went over to exertion after the test: that stands until a newer test."""
    tested(peak_oxygen_uptake=TEST)
    later = course.starts_on + timedelta(days=1)
    PrescriptionFactory(
        enrolment=course, valid_from=later, method="exertion", peak_bpm=None, tested_on=None
    )
    client.force_login(clinician)
    found = initial(client, course)
    assert (found["method"], found["peak_bpm"]) == ("exertion", None)
    tested(10, "six_weeks", peak_oxygen_uptake=TEST | {"peak_bpm": 140})
    assert (initial(client, course)["method"], initial(client, course)["peak_bpm"]) == (
        "reserve",
        140,
    )


def test_a_newer_walk_raises_the_work_in_force_and_never_lowers_it(
    client, clinician, course, tested
):
    PrescriptionFactory(enrolment=course, valid_from=course.starts_on, target_mets=3.0)
    client.force_login(clinician)
    tested(5, "informal", six_minute_walk={"distance_m": 400.0})
    assert initial(client, course)["target_mets"] == 3.0  # 66.7 m/min cost 2.9 METs (ACSM)
    tested(9, "six_weeks", six_minute_walk={"distance_m": 570.0})
    # 95 m/min; 80 % of it, 76 m/min: (7.6 + 3.5) / 3.5
    assert initial(client, course)["target_mets"] == 3.2


def test_a_range_above_the_first_threshold_is_marked(client, clinician, course, tested):
    tested(peak_oxygen_uptake=TEST)
    client.force_login(clinician)
    url = reverse("prescription:work-out", args=[course.pk])
    given = {
        "method": "reserve", "resting_bpm": 62, "peak_bpm": 132, "tested_on": course.starts_on,
        "low_percent": 40, "high_percent": 59, "rpe_low": 12, "rpe_high": 13, "minutes": 30,
        "per_week": 3,
    }  # fmt: skip
    assert "above the first threshold, 98" in client.post(url, given).content.decode()
    lower = client.post(url, given | {"low_percent": 30, "high_percent": 50}).content.decode()
    assert "above the first threshold" not in lower


# --- what is known before a test ----------------------------------------------------------------


def form_of(client, row, *tests):
    url = reverse("assessments:record", args=[row.pk])
    return client.get(url, {"test": tests}).context["form"]


def post(client, row, **typed):
    data = {"performed_on": row.enrolment.starts_on, "seen_version": row.version} | typed
    url = reverse("assessments:record", args=[row.pk])
    tests = {key.partition("-")[0] for key in typed if "-" in key}
    return client.post(f"{url}?{'&'.join(f'test={t}' for t in sorted(tests))}", data)


@pytest.fixture
def opened(course, clinician):
    return AssessmentFactory(enrolment=course, performed_on=None, by=None)


def test_a_beta_blocker_on_record_is_filled_in_and_no_test_done(client, clinician, course, opened):
    client.force_login(clinician)
    name = "single_stage_treadmill-on_beta_blocker"
    assert name not in form_of(client, opened, "single_stage_treadmill").initial
    MedicineFactory(patient=course.patient, drug_class="beta_blocker")
    assert form_of(client, opened, "single_stage_treadmill").initial[name] is True
    page = post(client, opened, **{name: "yes"}).content.decode()
    assert "Nothing was measured yet" in page


def test_denying_a_beta_blocker_on_record_is_asked_about(client, clinician, course, opened):
    MedicineFactory(patient=course.patient, drug_class="beta_blocker")
    client.force_login(clinician)
    typed = {
        "chronotropic_index-resting_bpm": "62",
        "chronotropic_index-peak_bpm": "132",
        "chronotropic_index-on_beta_blocker": "no",
    }
    page = post(client, opened, **typed)
    assert "though a beta-blocker is on record" in page.content.decode()
    confirmed = page.context["form"].data["confirmed"]
    assert post(client, opened, **typed, confirmed=confirmed).status_code == 302


def test_a_course_longer_than_the_sites_is_asked_about(client, clinician, site, opened):
    from tests.factories.assessments import AssessmentPolicyFactory

    AssessmentPolicyFactory(site=site, longest_course_m=30)
    client.force_login(clinician)
    typed = {"six_minute_walk-distance_m": "400", "six_minute_walk-course_m": "40"}
    page = post(client, opened, **typed).content.decode()
    assert "on 40 m, though the longest course here is 30 m" in page
    assert 'value="400"' in page  # nothing typed is lost
    typed["six_minute_walk-course_m"] = "30"
    assert post(client, opened, **typed).status_code == 302


def test_a_second_measurement_of_the_same_day_is_asked_about(
    client, clinician, course, opened, tested
):
    check = AssessmentFactory(enrolment=course, kind="informal", number=2)
    services.record(
        check, course.starts_on, {"resting_heart_rate": {"heart_rate_bpm": 66}},
        seen=check.version, key=None, by=clinician,
    )  # fmt: skip
    client.force_login(clinician)
    page = post(client, opened, **{"resting_heart_rate-heart_rate_bpm": "72"})
    words = "a second time on the same day, 66 /min in the progress check"
    assert words in page.content.decode()
    confirmed = page.context["form"].data["confirmed"]
    typed = {"resting_heart_rate-heart_rate_bpm": "72", "confirmed": confirmed}
    assert post(client, opened, **typed).status_code == 302


def test_lipids_are_asked_for_in_the_sites_unit(client, clinician, site, opened):
    client.force_login(clinician)
    name = "non_hdl_cholesterol-is_mmoll"
    assert form_of(client, opened, "non_hdl_cholesterol").initial[name] is False
    site.shows_mmoll = True
    site.save()
    assert form_of(client, opened, "non_hdl_cholesterol").initial[name] is True
    typed = {f"non_hdl_cholesterol-{k}": v for k, v in {"total": "190", "hdl": "45"}.items()}
    page = post(client, opened, **typed, **{name: "yes"}).content.decode()
    assert "190 mmol/L is impossible. Is it in mg/dL?" in page


def test_a_weight_far_from_the_last_one_is_asked_about(client, clinician, course, opened, tested):
    tested(kind="informal", body_mass_index={"weight_kg": 82.0, "height_cm": 175.0})
    client.force_login(clinician)
    typed = {"body_mass_index-height_cm": "175"}
    page = post(client, opened, **typed, **{"body_mass_index-weight_kg": "182,5"})
    assert "Weight 182.5 kg, though 82 kg was weighed last" in page.content.decode()
    near = post(client, opened, **typed, **{"body_mass_index-weight_kg": "90"})
    assert "weighed last" not in near.content.decode()


def test_every_fault_is_said_in_one_round_beside_its_test(client, clinician, site, opened):
    from tests.factories.assessments import AssessmentPolicyFactory

    AssessmentPolicyFactory(site=site, longest_course_m=30)
    client.force_login(clinician)
    typed = {
        "resting_blood_pressure-systolic_mmhg": "80",
        "resting_blood_pressure-diastolic_mmhg": "95",
        "non_hdl_cholesterol-total": "5.2",
        "non_hdl_cholesterol-hdl": "1.2",
        "six_minute_walk-distance_m": "400",
        "six_minute_walk-course_m": "40",
        "phq9-item1": "1",
    }
    errors = post(client, opened, **typed).context["form"].errors
    assert "above diastolic 95" in errors["resting_blood_pressure-systolic_mmhg"][0]
    assert "Is it in mmol/L?" in errors["non_hdl_cholesterol-total"][0]
    assert "Item 9 is unanswered" in errors["phq9-item2"][0]
    assert "__all__" not in errors  # what is merely unusual is asked about afterwards


def test_work_in_force_above_what_the_tests_offer_is_said(client, clinician, course, tested):
    PrescriptionFactory(enrolment=course, target_mets=3.4)
    tested(5, "informal", six_minute_walk={"distance_m": 400.0})
    client.force_login(clinician)
    url = reverse("prescription:prescribe", args=[course.pk])
    assert "the work in force, 3.4 METs, lies above this" in client.get(url).content.decode()


def test_the_weight_used_is_the_one_weighed_last(client, clinician, course, tested):
    from tests.factories.attendance import ReadingFactory, VisitFactory

    visit = VisitFactory(enrolment=course)  # today
    ReadingFactory(visit=visit, weight_kg=84.0)
    client.force_login(clinician)
    url = reverse("prescription:prescribe", args=[course.pk])
    tested(body_mass_index={"weight_kg": 90.0, "height_cm": 175.0})
    assert client.get(url).context["weight_kg"] == 84.0  # two weeks newer
    course.patient.weights.filter(kg=84.0).update(on=course.starts_on - timedelta(days=1))
    assert client.get(url).context["weight_kg"] == 90.0


# --- exercises of resistance --------------------------------------------------------------------

DOSE = {
    "method": "exertion", "rpe_low": "11", "rpe_high": "13", "minutes": "30", "per_week": "3",
    "strength": "light", "strength_sets": "2", "above_because": "seen by the clinician",
}  # fmt: skip


def prescribe(client, course, **more):
    return client.post(reverse("prescription:prescribe", args=[course.pk]), DOSE | more)


def test_exercises_are_written_one_a_line_and_carried_on(client, clinician, course):
    client.force_login(clinician)
    typed = "Leg press 12 x 40 kg\nHeel raise 15 times"
    assert prescribe(client, course, lifts=typed).status_code == 302
    assert course.prescriptions.first().lifts == [
        {"exercise": "Leg press", "repetitions": 12, "load_kg": 40.0},
        {"exercise": "Heel raise", "repetitions": 15, "load_kg": None},
    ]
    page = client.get(reverse("prescription:prescribe", args=[course.pk]))
    shown = page.context["form"]["lifts"].value()
    assert shown == "Leg press 12 × 40 kg\nHeel raise 15 times"
    assert prescribe(client, course, lifts=shown, minutes="35").status_code == 302
    new, old = course.prescriptions.all()
    assert (new.lifts, new.minutes) == (old.lifts, 35)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"lifts": "Leg press 16 x 40 kg"}, "light resistance has at most 15 repetitions"),
        ({"lifts": "Leg press 12 x 40 kg", "strength": ""}, "Choose the stage of resistance"),
        ({"lifts": "Leg press"}, "exercise, repetitions × load"),
        ({"lifts": "Row 5 x 5 kg\nRow 6 x 5 kg"}, "Row stands there twice"),
    ],
)
def test_an_exercise_that_cannot_be_is_refused_as_it_was_typed(
    client, clinician, course, more, words
):
    client.force_login(clinician)
    page = prescribe(client, course, **more)
    assert page.status_code == 200
    assert words in page.content.decode()
    assert more["lifts"].split()[0] in page.context["form"]["lifts"].value()
    assert not course.prescriptions.exists()
