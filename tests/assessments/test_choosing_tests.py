"""Chosen tests, the site's sets, and the same tests in the same way at a reassessment."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from assessments import services_choosing
from assessments.calc.catalogue import PROPOSED
from assessments.queries_record import on_record
from patients.history import StaleVersion
from tests.factories.assessments import (
    AssessmentFactory,
    MeasurementFactory,
    UsualTestsFactory,
)
from tests.factories.patients import ConditionFactory, DeviceFactory, MedicineFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def baseline(course):
    return AssessmentFactory(enrolment=course, kind="baseline", performed_on=None)


@pytest.fixture
def six_weeks(course):
    return AssessmentFactory(enrolment=course, kind="six_weeks", performed_on=None)


def test_site_has_a_set_of_its_own_with_reason_and_versions(site, people, baseline):
    admin = people["administrator"]
    assert services_choosing.proposed_for(baseline) == list(PROPOSED["baseline"])
    with pytest.raises(ValidationError, match="why"):
        services_choosing.change_set(site, "baseline", ["gad7"], " ", seen=0, by=admin)
    with pytest.raises(ValidationError, match="of the list"):
        services_choosing.change_set(site, "baseline", ["no_such"], "x", seen=0, by=admin)
    row = services_choosing.change_set(
        site, "baseline", ["phq9", "six_minute_walk"], "no oximeter", seen=0, by=admin
    )
    assert services_choosing.proposed_for(baseline) == ["six_minute_walk", "phq9"]
    with pytest.raises(StaleVersion):
        services_choosing.change_set(site, "baseline", ["gad7"], "x", seen=0, by=admin)
    services_choosing.change_set(site, "baseline", ["gad7"], "y", seen=row.version, by=admin)
    assert row.history.count() == 2


def test_set_of_one_site_is_not_anothers(baseline):
    UsualTestsFactory(tests=["gad7"])
    assert services_choosing.proposed_for(baseline) == list(PROPOSED["baseline"])


def test_choice_is_kept_with_what_seemed_to_limit(baseline, clinician):
    services_choosing.choose(
        baseline, ["balance"], ["four_stances", "phq9"], seen=baseline.version, by=clinician
    )
    baseline.refresh_from_db()
    assert (baseline.limits, baseline.tests) == (["balance"], ["four_stances", "phq9"])
    with pytest.raises(StaleVersion):
        services_choosing.choose(baseline, [], ["gad7"], seen=1, by=clinician)
    for limits, tests in [(["luck"], ["gad7"]), (["mood"], []), (["mood"], ["no_such"])]:
        with pytest.raises(ValidationError):
            services_choosing.choose(baseline, limits, tests, seen=baseline.version, by=clinician)


def test_reassessment_proposes_the_tests_and_variants_of_the_baseline(course, six_weeks):
    done = AssessmentFactory(enrolment=course, kind="baseline")
    MeasurementFactory(assessment=done)
    MeasurementFactory(
        assessment=done, key="grip_strength", inputs={"left_first_kg": 30}, value=30, unit="kg"
    )
    MeasurementFactory(assessment=done, key="gad7", value=3, unit="points", error_reason="other")
    proposed = services_choosing.proposed_for(six_weeks)
    assert "grip_strength" in proposed
    assert "gad7" not in proposed
    assert services_choosing.variants_for(six_weeks) == {"six_minute_walk": {"course_m": 30.0}}
    assert services_choosing.variants_for(done) == {}


def test_what_is_on_record_speaks(course, site):
    ConditionFactory(patient=course.patient, kind="mi", happened_on=site.today())
    MedicineFactory(patient=course.patient, drug_class="beta_blocker")
    DeviceFactory(
        patient=course.patient, kind="icd", detection_bpm=170, detection_read_on=site.today()
    )
    done = AssessmentFactory(enrolment=course)
    MeasurementFactory(
        assessment=done, key="resting_blood_pressure", value=150, unit="mmHg",
        inputs={"systolic_mmhg": 150, "diastolic_mmhg": 92},
    )  # fmt: skip
    record = on_record(course, site.today())
    assert (record.days_since_mi, record.on_beta_blocker, record.detection_bpm) == (0, True, 170)
    assert (record.systolic_mmhg, record.diastolic_mmhg, record.resting_bpm) == (150, 92, None)


def test_equation_of_the_site_is_proposed_until_the_baseline_says_otherwise(
    site, people, course, baseline, six_weeks
):
    admin = people["administrator"]
    with pytest.raises(ValidationError):
        services_choosing.choose_equation(site, "six_minute_walk", 9, "x", seen=0, by=admin)
    with pytest.raises(ValidationError):
        services_choosing.choose_equation(site, "six_minute_walk", 2, " ", seen=0, by=admin)
    row = services_choosing.choose_equation(site, "six_minute_walk", 2, "x", seen=0, by=admin)
    with pytest.raises(StaleVersion):
        services_choosing.choose_equation(site, "six_minute_walk", 3, "x", seen=0, by=admin)
    assert row.name.startswith("Troosters")
    assert services_choosing.variants_for(baseline)["six_minute_walk"] == {"equation": 2}
    baseline.performed_on, baseline.by = course.starts_on, admin
    baseline.save()
    MeasurementFactory(assessment=baseline)  # scored by the usual one, before the choice
    assert "equation" not in services_choosing.variants_for(six_weeks)["six_minute_walk"]


# --- pages -------------------------------------------------------------------------------------


def test_clinician_chooses_on_the_page_and_the_form_asks_for_these_tests(
    client, clinician, baseline
):
    client.force_login(clinician)
    url = reverse("assessments:choose", args=[baseline.pk])
    page = client.get(url, {"limit": ["balance"]}).content.decode()
    assert "Four-stage balance" in page
    assert "common practice, no source" in page
    client.post(url, {"limit": "balance", "test": ["four_stances"], "seen_version": "1"})
    form = client.get(reverse("assessments:record", args=[baseline.pk])).content.decode()
    assert 'name="four_stances-tandem_s"' in form
    assert "six_minute_walk-distance_m" not in form
    assert "Seems limited by: balance" in form


def test_stale_choice_is_refused_with_words(client, clinician, baseline):
    client.force_login(clinician)
    url = reverse("assessments:choose", args=[baseline.pk])
    page = client.post(url, {"test": ["gad7"], "seen_version": "9"}).content.decode()
    assert "Somebody else saved" in page


def test_variant_is_filled_in_and_by_itself_is_no_test_done(client, clinician, course, six_weeks):
    done = AssessmentFactory(enrolment=course, kind="baseline")
    MeasurementFactory(assessment=done)
    client.force_login(clinician)
    url = reverse("assessments:record", args=[six_weeks.pk])
    page = client.get(url).content.decode()
    assert 'name="six_minute_walk-course_m" value="30"' in page
    typed = {
        "performed_on": course.starts_on.isoformat(),
        "seen_version": six_weeks.version,
        "six_minute_walk-course_m": "30",
        "chair_stand_30s-stands": "12",
    }
    client.post(url, typed)
    assert [m.key for m in six_weeks.measurements.all()] == ["chair_stand_30s"]


def test_administrator_changes_a_set_and_others_read_it(client, people, site):
    client.force_login(people["administrator"])
    url = reverse("assessments:change-set", args=["informal"])
    assert client.get(url).status_code == 200
    client.post(url, {"tests": ["gad7"], "reason": "asked by the team", "seen_version": "0"})
    equation = reverse("assessments:change-equation", args=["six_minute_walk"])
    assert "Troosters" in client.get(equation).content.decode()
    client.post(equation, {"equation": "2", "reason": "as the hospital", "seen_version": "0"})
    assert client.get(reverse("assessments:change-equation", args=["phq9"])).status_code == 404
    client.force_login(people["clinician"])
    page = client.get(reverse("assessments:test-sets")).content.decode()
    assert "as the hospital" in page
    assert "asked by the team" in page
    assert client.get(url).status_code == 403


def test_asking_again_drops_no_tick(client, clinician, baseline):
    client.force_login(clinician)
    url = reverse("assessments:choose", args=[baseline.pk])
    given = {"limit": ["balance"], "asked": "1", "test": ["gad7", "four_stances"]}
    context = client.get(url, given).context
    ticked = {s.test.key for s, is_on in context["suggested"] if is_on}
    assert ticked == {"four_stances"}
    assert [measure.key for measure, _ in context["others"]] == ["gad7"]
    assert client.get(url, {"asked": "1", "test": ["gad7"]}).context["chosen_limits"] == []


def test_the_usual_equation_is_named_where_none_is_chosen(client, clinician, baseline):
    client.force_login(clinician)
    page = client.get(reverse("assessments:record", args=[baseline.pk])).content.decode()
    assert "usual: Enright 1998" in page
