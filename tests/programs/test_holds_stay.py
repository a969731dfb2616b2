"""A hold, a stop or a severe low never vanishes by itself: what clears it is named and kept."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError

from patients.calc.units import glucose_mgdl
from programs.attendance.calc.effort import Load
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.questions import ASKED_BEFORE
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.care import services as services_care
from programs.attendance.findings import (
    interruptions as services_interruptions,
)
from programs.attendance.findings import (
    services as services_findings,
)
from programs.attendance.findings.known import known_of
from programs.attendance.meeting import services as services_meeting
from programs.attendance.models import Interruption
from programs.attendance.sheet.services import save_sheet
from programs.attendance.visit import services
from tests.factories.attendance import (
    InterruptionFactory,
    ReadingFactory,
    SiteLimitFactory,
    VisitFactory,
)
from tests.factories.enrolment import PlannedSessionFactory
from tests.factories.patients import MedicineFactory
from tests.factories.staff import UserFactory

pytestmark = pytest.mark.django_db
CALM = Vitals(68, 126, 74, 97, None, 80.0)
ALL_NO = {q.id: False for q in ASKED_BEFORE}
WORK = Load("treadmill", 20, speed_kmh=4.2, heart_rate_bpm=96)


# What these tests do not measure, they say so about, as staff would.
NOT_NEEDED = {"not_taken": {"": "not measured in this test"}, "decided_by": "Dr Lind"}


@pytest.fixture
def visit(planned, nurse):
    return services.arrive(planned, by=nurse)


@pytest.fixture
def save(nurse):
    def run(visit, sheet, step="save", **more):
        visit.refresh_from_db()
        options = {"seen": visit.version, "key": None, "by": nurse} | NOT_NEEDED | more
        return save_sheet(visit, sheet, step, **options)

    return run


@pytest.fixture
def insulin(course):
    return MedicineFactory(patient=course.patient, name="insulin glargine", drug_class="insulin")


def standing(visit):
    return sorted(f.rule_id for f in visit.findings.all() if f.cleared_at is None)


def answer(visit, decision, *, by):
    keys = [f.pk for f in visit.findings.all() if f.is_open]
    services_findings.answer_findings(visit, keys, decision, "seen", "Dr Lind", by=by)


# --- typing over ------------------------------------------------------------------------------


def test_value_typed_over_is_a_new_reading_and_both_stay(visit, save):
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=186)))
    save(visit, Sheet(before=CALM))
    assert [r.systolic_mmhg for r in visit.readings.all()] == [186, 126]
    assert [r.heart_rate_bpm for r in visit.readings.all()] == [68, None]


def test_severe_low_typed_over_still_bars_the_day(visit, save, insulin):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=48)))
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=130)))
    assert "G-06" in standing(visit)


def test_severe_low_that_was_a_typing_error_goes_once_a_clinician_looked(
    visit, save, insulin, clinician
):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=48)))
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=148)), because="148, not 48")
    assert visit.history.first().history_change_reason == "save; 148, not 48"
    assert "G-06" in standing(visit)  # a correction is no repeat: a clinician looks
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=148)), by=clinician)
    assert "G-06" not in standing(visit)


def test_reading_before_exercise_is_not_typed_over_once_it_began(visit, save):
    save(visit, Sheet(before=CALM), "start")
    with pytest.raises(ValidationError, match="Write why it is corrected"):
        save(visit, Sheet(before=replace(CALM, systolic_mmhg=150)))
    late = replace(CALM, temperature_c=36.8)  # never taken before: only late
    assert save(visit, Sheet(before=late)).visit.readings.get().temperature_c == 36.8


@pytest.mark.parametrize(
    ("first", "then", "words"),
    [
        ({"answers": {"fell": True}}, {"answers": {"fell": False}}, "A fall"),
        ({"answers": {"fell": True}}, {"answers": {}}, "A fall"),
        ({"ketones": "moderate"}, {"ketones": "none"}, "Ketones were moderate"),
        ({"ketones": "moderate"}, {"ketones": ""}, "Ketones were moderate"),
        ({"rhythm": Rhythm(before="vt")}, {"rhythm": Rhythm(before="sinus")}, "tachycardia"),
    ],
)
def test_what_was_said_or_seen_changes_with_words_only(visit, save, first, then, words):
    save(visit, Sheet(before=CALM, **first))
    with pytest.raises(ValidationError, match=words):
        save(visit, Sheet(before=CALM, **then))
    save(visit, Sheet(before=CALM, **then), because="asked again")


def test_hold_with_symptoms_stands_while_the_symptoms_are_open(visit, save):
    fallen = replace(CALM, standing_systolic_mmhg=100, standing_diastolic_mmhg=60)
    save(visit, Sheet(before=fallen, answers=ALL_NO | {"dizzy": True}))
    save(visit, Sheet(before=fallen), because="answers belonged to somebody else")
    held = [f for f in visit.findings.all() if f.rule_id == "E-03" and f.cleared_at is None]
    assert sorted(f.level_word for f in held) == ["caution", "hold"]


def test_answers_of_a_group_the_person_left_stay(visit, save):
    save(visit, Sheet(before=CALM, answers={"shock": True}))
    shown = frozenset(ALL_NO) - {"shock", "worse", "severe_low"}
    answers = dict.fromkeys(shown, False)
    save(visit, Sheet(before=CALM, answers=answers, asked=shown))
    visit.refresh_from_db()
    assert visit.answers["shock"] is True


# --- lows ---------------------------------------------------------------------------------------


def test_help_with_a_low_stays_whatever_is_said_later(visit, save, insulin, nurse):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=62)))
    services_care.recheck(visit, Glucose(80), needed_help=True, by=nurse)
    services_care.recheck(visit, Glucose(120), needed_help=False, by=nurse)
    visit.refresh_from_db()
    assert visit.answers["needed_help"] is True
    assert "G-03" in standing(visit)


def test_help_with_a_low_yesterday_bars_today(visit, save, course, insulin):
    earlier = VisitFactory(enrolment=course, state="held", answers={"needed_help": True})
    reading = ReadingFactory(visit=earlier, phase="before", glucose_mgdl=66)
    reading.taken_at = visit.arrived_at - timedelta(hours=20)
    reading.save()
    assert known_of(visit).needed_help_24h
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=130)))
    assert "G-06" in standing(visit)


def test_help_with_a_low_two_days_ago_does_not(visit, course):
    earlier = VisitFactory(enrolment=course, state="held", answers={"needed_help": True})
    reading = ReadingFactory(visit=earlier, phase="before", glucose_mgdl=66)
    reading.taken_at = visit.arrived_at - timedelta(hours=25)
    reading.save()
    assert not known_of(visit).needed_help_24h


def test_low_rechecked_in_exercise_is_not_cleared_by_an_older_value(visit, save, insulin, nurse):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=140)), "start")
    shown = Sheet(
        before=replace(CALM, glucose_mgdl=140), after=Vitals(glucose_mgdl=120), bouts=(WORK,)
    )
    save(visit, shown)
    services_care.recheck(visit, Glucose(64), by=nurse)
    shown = replace(shown, during=Vitals(glucose_mgdl=64))
    save(visit, shown)
    assert "G-09" in standing(visit)
    save(visit, replace(shown, recovery=Vitals(glucose_mgdl=112)))
    assert "G-09" not in standing(visit)
    assert "G-01" in standing(visit)  # the low in exercise happened: it is answered, never cleared


def test_glucose_typed_later_has_its_own_time(visit, save, insulin, nurse):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=140)), "start")
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=140), after=Vitals(heart_rate_bpm=88)))
    services_care.recheck(visit, Glucose(64), by=nurse)
    later = Vitals(heart_rate_bpm=88, glucose_mgdl=110)
    low = Vitals(glucose_mgdl=64)
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=140), during=low, after=later))
    assert "G-09" not in standing(visit)


def test_ketones_of_a_lower_glucose_do_not_cover_a_higher_one(visit, save, insulin, nurse):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=260), ketones="none"))
    assert standing(visit) == ["G-05"]
    services_care.recheck(visit, Glucose(glucose_mgdl(18.0), is_mmoll=True), by=nurse)
    visit.refresh_from_db()
    assert visit.ketones == ""
    open_ones = [f.about for f in visit.findings.all() if f.is_open]
    assert "untested" in open_ones
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=330), ketones="none"))
    visit.refresh_from_db()
    assert visit.ketones == "none"


def test_a_low_that_needed_help_is_noted_without_a_meter(visit, save, insulin, nurse):
    assert services_care.recheck(visit, None, needed_help=True, by=nurse) is None
    visit.refresh_from_db()
    assert visit.answers["needed_help"] is True
    assert "G-03" in standing(visit)
    with pytest.raises(ValidationError, match="value of the meter"):
        services_care.recheck(visit, None, needed_help=False, by=nurse)


def test_a_level_2_low_stays_after_a_good_recheck_until_somebody_decided(
    visit, save, insulin, nurse, clinician
):
    """ADA 2017, Table 6.3: below 54 mg/dL is level 2; 53 is no severe low of 2.9 mmol/L."""
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=53)))
    services_care.recheck(visit, Glucose(118), by=nurse)
    assert {"G-02", "G-07"} <= set(standing(visit))
    assert "G-06" not in standing(visit)
    assert save(visit, Sheet(before=replace(CALM, glucose_mgdl=118)), "start").barred_by


def test_a_repeat_inside_the_limit_settles_a_hold_for_floor_staff(visit, save):
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=190, diastolic_mmhg=112)))
    assert "E-01" in standing(visit)
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=150)))
    assert "E-01" not in standing(visit)


def test_a_corrected_value_settles_nothing_until_a_clinician_looks(visit, save, clinician):
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=190)))
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=130)), because="130, not 190")
    assert "E-01" in standing(visit)
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=130)), by=clinician)
    assert "E-01" not in standing(visit)


def test_a_site_lets_only_a_clinician_settle_a_hold(visit, save, course, clinician):
    SiteLimitFactory(
        site=course.patient.site, rule_key="E-01-hold", limit=None, settled_by="clinician"
    )
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=190)))
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=150)))
    assert "E-01" in standing(visit)
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=150)), by=clinician)
    assert "E-01" not in standing(visit)


def test_a_site_lets_floor_staff_take_a_symptom_back(visit, save, course):
    SiteLimitFactory(
        site=course.patient.site, rule_key="E-30-dizzy-hold", limit=None, settled_by="floor"
    )
    save(visit, Sheet(before=CALM, answers={"dizzy": True}))
    save(visit, Sheet(before=CALM, answers={"dizzy": False}), because="meant last week")
    assert "E-30" not in standing(visit)


def test_values_typed_together_are_all_kept(visit, save, insulin):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=140)), "start")
    together = Sheet(
        before=replace(CALM, glucose_mgdl=140),
        during=Vitals(glucose_mgdl=62),
        after=Vitals(glucose_mgdl=75),
        recovery=Vitals(glucose_mgdl=104),
    )
    save(visit, together)
    assert [r.glucose_mgdl for r in visit.readings.all()] == [140, 62, 75, 104]
    assert "G-01" in standing(visit)
    assert "G-09" not in standing(visit)  # the last moment is fine


def test_recheck_is_for_somebody_who_is_here_today(visit, planned, nurse):
    services.undo_arrival(planned, by=nurse)
    with pytest.raises(ValidationError, match="who is here"):
        services_care.recheck(visit, Glucose(100), by=nurse)


# --- in exercise and after it -----------------------------------------------------------------


def test_later_bout_is_judged_though_an_earlier_one_was_worse(visit, save, clinician):
    save(visit, Sheet(before=CALM), "start")
    first = replace(WORK, systolic_mmhg=255, diastolic_mmhg=80)
    save(visit, Sheet(before=CALM, bouts=(first,)))
    answer(visit, "proceed", by=clinician)
    second = replace(WORK, speed_kmh=4.6, systolic_mmhg=252, diastolic_mmhg=80)
    result = save(visit, Sheet(before=CALM, bouts=(first, second), minutes=40), "finish")
    assert [(f.rule_id, f.about) for f in result.barred_by] == [("F-02", "systolic@2")]


def test_bout_keeps_its_place_when_one_before_it_is_withdrawn(visit, save):
    save(visit, Sheet(before=CALM), "start")
    high = replace(WORK, systolic_mmhg=255, diastolic_mmhg=80)
    save(visit, Sheet(before=CALM, bouts=(WORK, high)))
    save(visit, Sheet(before=CALM, bouts=(Load(), high)))
    assert [f.about for f in visit.findings.all()] == ["systolic@2"]


def test_hold_once_exercise_began_is_a_stopped_session_that_counts(visit, save, nurse):
    save(visit, Sheet(before=CALM), "start")
    low = Sheet(before=CALM, recovery=Vitals(80, 84, 50), bouts=(WORK,), minutes=40)
    save(visit, low)
    answer(visit, "hold", by=nurse)
    visit.refresh_from_db()
    assert (visit.state, visit.sessions_counted) == ("stopped", 1)
    assert visit.interruptions.get().kind == "hold"


def test_hold_on_a_finished_visit_stands_on_the_next_one(visit, save, course, nurse):
    save(visit, Sheet(before=CALM), "start")
    done = Sheet(before=CALM, recovery=Vitals(80, 120, 70), bouts=(WORK,), minutes=40)
    save(visit, done, "finish")
    dizzy = replace(done, answers={"after_dizzy": True})
    save(visit, dizzy)
    answer(visit, "hold", by=nurse)
    visit.refresh_from_db()
    assert (visit.state, visit.interruptions.count()) == ("finished", 1)
    save(visit, replace(dizzy, answers={"after_dizzy": True, "after_chest_pain": True}))
    answer(visit, "hold", by=nurse)
    assert visit.interruptions.count() == 1  # the record of the visit grows
    assert "Chest pain" in visit.interruptions.get().seen
    later = VisitFactory(enrolment=course, state="arrived", on=visit.on + timedelta(days=2))
    assert known_of(later).was_interrupted


def test_exercise_is_stopped_never_held(visit, save):
    save(visit, Sheet(before=CALM), "start")
    with pytest.raises(ValidationError):
        save(visit, Sheet(before=CALM), "hold")


def test_return_is_confirmed_only_when_it_is_known_what_was_asked_for(visit, save, nurse):
    earlier = VisitFactory(enrolment=visit.enrolment, state="held", on=visit.on - timedelta(days=2))
    row = InterruptionFactory(visit=earlier, written_at=None)
    save(visit, Sheet(before=CALM))
    with pytest.raises(ValidationError, match="Document first"):
        answer(visit, "proceed", by=nurse)
    services_interruptions.write_up(
        row, seen="pale", done="sat", told="Dr Lind", return_condition="ECG seen", by=nurse
    )
    answer(visit, "proceed", by=nurse)
    assert Interruption.objects.get().settled_at is not None


@pytest.mark.parametrize("sheet", [{"answers": {"fell": False}}, {"symptoms": "tired"}])
def test_absence_does_not_land_on_answers(visit, planned, save, nurse, sheet):
    save(visit, Sheet(**sheet))
    with pytest.raises(ValidationError, match="Something is recorded"):
        services.mark_absent(planned, "ill", by=nurse)
    with pytest.raises(ValidationError, match="cannot be undone"):
        services.undo_arrival(planned, by=nurse)


def test_class_opens_with_people_of_the_site_only(closed_slot, nurse):
    slot, on = closed_slot
    stranger = UserFactory(role="floor")
    with pytest.raises(ValidationError, match="Not on the staff"):
        services_meeting.open_class(
            slot, on, staff=[nurse], supervisor=stranger, exception="x", by=nurse
        )


@pytest.fixture
def closed_slot(course):
    planned = PlannedSessionFactory(enrolment=course)
    return planned.slot, planned.on
