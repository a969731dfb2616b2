from datetime import time, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from assessments import services, services_schedule
from assessments.models import Assessment, Concern, Measurement
from assessments.queries_schedule import performed_kinds
from patients.history import StaleVersion
from programs.enrolment.calc.eligibility import add_months
from programs.enrolment.models import Enrolment
from tests.due import due_on
from tests.factories.assessments import AssessmentFactory, ConcernFactory, MeasurementFactory
from tests.factories.enrolment import ClassSlotFactory

pytestmark = pytest.mark.django_db
PHQ = {f"item{n}": 0 for n in range(1, 10)}


@pytest.fixture
def assessment(course, clinician):
    return services_schedule.open_assessment(course, "baseline", 1, by=clinician)


@pytest.fixture
def record(assessment, clinician):
    def run(entries, **more):
        assessment.refresh_from_db()
        options = {"seen": assessment.version, "key": None, "by": clinician} | more
        return services.record(assessment, assessment.enrolment.starts_on, entries, **options)

    return run


def test_results_keep_inputs_version_and_meaning(record, course):
    course.patient.born_on = add_months(course.starts_on, -64 * 12)
    course.patient.save()
    record({"six_minute_walk": {"distance_m": 450.0, "height_cm": 162.0, "weight_kg": 68.0}})
    m = Measurement.objects.get()
    assert (m.value, m.unit, m.formula_version) == (450, "m", "enright98-1")
    assert m.inputs["height_cm"] == 162
    # Enright 1998, worked example: woman of 64, 162 cm, 68 kg: 483.18 m
    assert any("predicted 483 m" in line for line in m.derived_lines)


def test_opening_twice_gives_the_same_assessment(assessment, course, clinician):
    assert services_schedule.open_assessment(course, "baseline", 1, by=clinician) == assessment


def test_class_list_learns_what_is_due_next(record, course):
    record({"resting_heart_rate": {"heart_rate_bpm": 66}})
    assert "baseline" in performed_kinds(course)
    review = due_on(course, course.patient.site.today())
    assert (review.name, review.on) == (
        "Progress check",
        course.starts_on + timedelta(days=14),
    )


def test_correction_keeps_the_earlier_result(record):
    record({"resting_heart_rate": {"heart_rate_bpm": 66}})
    record({"resting_heart_rate": {"heart_rate_bpm": 76}})
    m = Measurement.objects.get()
    assert [v.value for v in m.history.all()] == [76, 66]


def test_what_cannot_be_scored_is_refused_whole(record):
    with pytest.raises(ValidationError, match="Item 9"):
        record(
            {
                "resting_heart_rate": {"heart_rate_bpm": 66},
                "phq9": PHQ | {"item9": None},
            }
        )
    assert not Measurement.objects.exists()


def test_item_nine_raises_a_concern_once(record):
    record({"phq9": PHQ | {"item9": 1}})
    first = Concern.objects.get(closed_at=None).sentence
    record({"phq9": PHQ | {"item9": 3}})
    concern = Concern.objects.get(closed_at=None)
    assert "1 several days" in first
    assert "3 nearly every day" in concern.sentence  # whoever calls relies on it
    assert [past.sentence for past in concern.history.all()] == [concern.sentence, first]
    record({"phq9": PHQ | {"item9": 0}})  # taken back: still somebody's to close
    assert Concern.objects.get(closed_at=None).sentence == concern.sentence


def test_closed_concern_is_raised_again_only_by_another_answer(record, clinician):
    record({"phq9": PHQ | {"item9": 1}})
    services.close_concern(Concern.objects.get(), "Spoke with her.", by=clinician)
    record({"phq9": PHQ | {"item9": 1}})
    assert not Concern.objects.filter(closed_at=None).exists()
    record({"phq9": PHQ | {"item9": 2}})
    assert Concern.objects.filter(closed_at=None).count() == 1


def test_pause_moves_what_is_due_next(client, course, clinician):
    client.force_login(clinician)
    site = course.patient.site
    course.slots.add(*[ClassSlotFactory(site=site, starts_at=time(hour)) for hour in (8, 10)])
    today = course.patient.site.today()
    url = reverse("assessments:change-course", args=[course.pk])
    client.post(url, {"step": "pause", "pause-from_on": today, "pause-reason": "ill"})
    course.refresh_from_db()
    before = due_on(course, today)
    assert before is not None
    client.post(url, {"step": "close", "close-closed_on": today, "close-outcome": "choice"})
    course.refresh_from_db()
    assert due_on(course, today) is None
    client.post(url, {"step": "reopen"})
    course.refresh_from_db()
    assert due_on(course, today) == before


def test_stale_form_is_refused(record, assessment):
    seen = assessment.version
    record({"resting_heart_rate": {"heart_rate_bpm": 66}})
    with pytest.raises(StaleVersion):
        record({"resting_heart_rate": {"heart_rate_bpm": 99}}, seen=seen)


def test_result_in_error_leaves_every_page_but_stays(record, clinician):
    record({"resting_heart_rate": {"heart_rate_bpm": 66}})
    m = Measurement.objects.get()
    with pytest.raises(ValidationError):
        services.mark_in_error(m, " ", by=clinician)
    services.mark_in_error(m, "wrong person", by=clinician)
    assert not Measurement.objects.standing().exists()
    assert Measurement.objects.count() == 1


def test_concern_closes_with_words(clinician):
    concern = ConcernFactory()
    with pytest.raises(ValidationError):
        services.close_concern(concern, "", by=clinician)
    services.close_concern(concern, "Spoke with her.", by=clinician)
    with pytest.raises(ValidationError):
        services.close_concern(concern, "again", by=clinician)


def test_performed_assessment_is_not_booked_again(clinician):
    with pytest.raises(ValidationError):
        services_schedule.plan_assessment(AssessmentFactory(), "2026-03-01", by=clinician)


# --- through the page ----------------------------------------------------------------------


def form(assessment, **fields):
    return {
        "performed_on": assessment.enrolment.starts_on.isoformat(),
        "seen_version": assessment.version,
        **fields,
    }


@pytest.fixture
def post(client, assessment, clinician):
    client.force_login(clinician)

    def run(**fields):
        assessment.refresh_from_db()
        return client.post(
            reverse("assessments:record", args=[assessment.pk]), form(assessment, **fields)
        )

    return run


def test_page_scores_what_was_typed_and_skips_the_rest(post):
    response = post(
        **{
            "six_minute_walk-distance_m": "450",
            "body_mass_index-height_cm": "162",
            "body_mass_index-weight_kg": "68,0",
        }
    )
    assert response.status_code == 302
    assert set(Measurement.objects.values_list("key", flat=True)) == {
        "six_minute_walk",
        "body_mass_index",
    }
    walk = Measurement.objects.get(key="six_minute_walk")
    assert walk.inputs["weight_kg"] == 68  # typed once, under body size


def test_height_filled_in_from_last_time_is_no_test(post):
    post(**{"body_mass_index-height_cm": "175", "resting_heart_rate-heart_rate_bpm": "70"})
    assert list(Measurement.objects.values_list("key", flat=True)) == ["resting_heart_rate"]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("1001", "outside 0 to 1000 m"),
        ("-1", "outside"),
        ("nan", "outside"),
        ("far", "not a number"),
    ],
)
def test_impossible_distance_is_refused_and_stays_in_the_form(post, typed, words):
    response = post(**{"six_minute_walk-distance_m": typed})
    assert words in response.content.decode()
    assert f'value="{typed}"' in response.content.decode()
    assert not Measurement.objects.exists()


def test_unusual_value_is_asked_about_once(post):
    fields = {"six_minute_walk-distance_m": "30"}
    first = post(**fields)
    assert "Is that right?" in first.content.decode()
    assert not Measurement.objects.exists()
    token = first.context["form"].data["confirmed"]
    assert post(**fields, confirmed=token).status_code == 302
    assert Measurement.objects.get().value == 30


def test_refused_form_still_raises_the_concern(post):
    response = post(**{"phq9-item9": "2", "phq9-item1": "1"})
    assert response.status_code == 200
    assert Concern.objects.count() == 1
    assert "speak with this person today" in response.content.decode()


def test_stale_form_still_raises_the_concern(post, client, assessment, record):
    seen = assessment.version
    record({"resting_heart_rate": {"heart_rate_bpm": 66}})
    data = form(assessment, **{f"phq9-item{n}": "0" for n in range(1, 9)}, **{"phq9-item9": "1"})
    data["seen_version"] = seen
    page = client.post(reverse("assessments:record", args=[assessment.pk]), data)
    assert "Somebody else saved" in page.content.decode()
    assert Concern.objects.count() == 1


def test_future_assessment_is_refused(client, assessment, clinician):
    client.force_login(clinician)
    tomorrow = assessment.enrolment.patient.site.today() + timedelta(days=1)
    data = form(assessment, **{"resting_heart_rate-heart_rate_bpm": "70"})
    data["performed_on"] = tomorrow.isoformat()
    response = client.post(reverse("assessments:record", args=[assessment.pk]), data)
    assert "future" in response.content.decode()


def test_same_submission_twice_counts_once(post):
    fields = {
        "resting_heart_rate-heart_rate_bpm": "70",
        "submission_key": "3f0c8a52-9f3e-4b0e-8a51-0d2f6a1f9b77",
    }
    assert post(**fields).status_code == 302
    assert post(**fields).status_code == 302
    assert Measurement.objects.get().history.count() == 1


def test_outcomes_show_missing_as_missing(client, course, clinician):
    MeasurementFactory(assessment=AssessmentFactory(enrolment=course))
    Assessment.objects.update(kind="baseline")
    client.force_login(clinician)
    url = reverse("reports:outcomes", args=[course.patient_id])
    page = client.get(url).content.decode()
    assert "400" in page
    assert page.count("not yet") >= 4  # two stages in the head and in the line
    Enrolment.objects.update(closed_on=course.starts_on + timedelta(days=12), outcome="completed")
    assert "<i>missing</i>" in client.get(url).content.decode()
