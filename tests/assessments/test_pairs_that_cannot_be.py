"""Numbers that contradict each other are refused or asked about, and what clinics see is taken."""

import pytest
from django.urls import reverse

from tests.factories.assessments import AssessmentFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def record(client, clinician, course):
    """Send typed values of one test; gives the page."""
    client.force_login(clinician)
    row = AssessmentFactory(enrolment=course, performed_on=None, by=None)

    def send(test, *, confirmed="", **typed):
        url = reverse("assessments:record", args=[row.pk])
        data = {f"{test}-{name}": value for name, value in typed.items()}
        data |= {"performed_on": course.starts_on, "seen_version": row.version}
        return client.post(f"{url}?test={test}", data | {"confirmed": confirmed})

    return send


@pytest.mark.parametrize(
    ("test", "typed", "words"),
    [
        ("chronotropic_index", {"resting_bpm": "80", "peak_bpm": "70"}, "below the resting rate"),
        (
            "peak_oxygen_uptake",
            {"vo2": "18", "resting_bpm": "80", "peak_bpm": "70"},
            "below the resting rate",
        ),
        (
            "non_hdl_cholesterol",
            {"total": "150", "hdl": "50", "direct_ldl": "160"},
            "LDL must be below the total cholesterol",
        ),
        (
            "maximal_inspiratory_pressure",
            {"best_cmh2o": "60", "second_cmh2o": "70"},
            "lies above the best",
        ),
        ("tobacco", {"status": "0", "packs": "1", "years": "20"}, "Never, with packs or years"),
        ("one_repetition_maximum", {"load_kg": "40", "reps": "30"}, "say too little of one"),
    ],
)
def test_what_cannot_be_is_refused_with_its_name(record, test, typed, words):
    page = record(test, **typed)
    assert page.status_code == 200
    assert words in page.content.decode()


@pytest.mark.parametrize(
    ("test", "typed", "words"),
    [
        (
            "heart_rate_recovery",
            {"peak_bpm": "130", "one_minute_bpm": "131"},
            "131 /min after one minute is above the peak of 130 /min",
        ),
        (
            "non_hdl_cholesterol",
            {"total": "150", "hdl": "50", "direct_ldl": "101"},
            "LDL 101 mg/dL is above non-HDL cholesterol",
        ),
        (
            "non_hdl_cholesterol",
            {"total": "150", "hdl": "50", "direct_ldl": "14"},
            "LDL 14 mg/dL",
        ),
        (
            "one_repetition_maximum",
            {"load_kg": "40", "reps": "11"},
            "11 repetitions, though the equations hold for 10",
        ),
        ("six_minute_walk", {"distance_m": "450", "course_m": "100"}, "Course length 100 m"),
        ("one_repetition_maximum", {"load_kg": "260", "reps": "8"}, "Load 260 kg"),
    ],
)
def test_what_is_rare_is_asked_about_once(record, test, typed, words):
    page = record(test, **typed)
    assert words in page.content.decode()
    confirmed = page.context["form"].data["confirmed"]
    assert record(test, confirmed=confirmed, **typed).status_code == 302


@pytest.mark.parametrize(
    ("test", "typed"),
    [
        ("heart_rate_recovery", {"peak_bpm": "130", "one_minute_bpm": "130"}),
        ("non_hdl_cholesterol", {"total": "150", "hdl": "50", "direct_ldl": "22"}),
        ("non_hdl_cholesterol", {"total": "150", "hdl": "50", "direct_ldl": "100"}),
        ("one_repetition_maximum", {"load_kg": "180", "reps": "10"}),
        (
            "four_stances",
            {"side_by_side_s": "10", "semi_tandem_s": "6", "tandem_s": "0", "one_leg_s": "0"},
        ),
        ("waist", {"waist_cm": "95", "site": "3"}),
        ("six_minute_walk", {"distance_m": "450", "course_m": "50"}),
    ],
)
def test_what_clinics_see_is_taken(record, test, typed):
    assert record(test, **typed).status_code == 302
