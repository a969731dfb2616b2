"""The floor's writes: what is stored, what bars a start, what counts."""

import uuid
from dataclasses import replace
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from patients.history import StaleVersion
from patients.submissions import AlreadyTaken
from programs.attendance.calc.effort import Load
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.findings import (
    interruptions as services_interruptions,
)
from programs.attendance.findings import (
    services as services_findings,
)
from programs.attendance.models import Finding, Visit
from programs.attendance.sheet.services import save_sheet
from programs.attendance.today.queries import day_of
from programs.attendance.visit import services
from tests.factories.attendance import ReadingFactory, VisitFactory
from tests.factories.enrolment import ClassSlotFactory, PlannedSessionFactory
from tests.factories.patients import ConditionFactory, MedicineFactory

pytestmark = pytest.mark.django_db
CALM = Vitals(68, 126, 74, 97, None, 80.0)
HIGH = replace(CALM, systolic_mmhg=186)
WORK = (Load("treadmill", 20, speed_kmh=4.2, systolic_mmhg=140, diastolic_mmhg=76, rpe=12),)


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


def answer(finding, decision, reason, told="", *, by):
    services_findings.answer_findings(finding.visit, [finding.pk], decision, reason, told, by=by)


def written_up(visit, *, by):
    words = {"seen": "pale", "done": "sat down", "told": "Dr Lind", "return_condition": "seen"}
    services_interruptions.write_up(visit.interruptions.get(), by=by, **words)


def test_arriving_twice_makes_one_visit(planned, nurse):
    first = services.arrive(planned, by=nurse)
    second = services.arrive(planned, by=nurse)
    assert first.pk == second.pk
    assert Visit.objects.count() == 1
    assert first.history.count() == 1


def test_absence_keeps_its_reason_and_can_be_undone(planned, nurse):
    services.mark_absent(planned, "transport", by=nurse)
    services.undo_arrival(planned, by=nurse)
    visit = Visit.objects.get()
    assert (visit.state, visit.absence) == ("expected", "")
    assert [v.state for v in visit.history.all()] == ["expected", "absent"]


def test_late_arrival_replaces_an_absence(planned, nurse):
    services.mark_absent(planned, "unknown", by=nurse)
    assert services.arrive(planned, by=nurse).state == "arrived"


def test_arrival_with_readings_cannot_be_undone(visit, planned, save, nurse):
    save(visit, Sheet(before=CALM))
    with pytest.raises(ValidationError, match="recorded"):
        services.undo_arrival(planned, by=nurse)


def test_exercising_person_cannot_be_absent(visit, planned, save, nurse):
    save(visit, Sheet(before=CALM), "start")
    with pytest.raises(ValidationError, match="already"):
        services.mark_absent(planned, "ill", by=nurse)


def test_readings_are_stored_and_start_follows(visit, save):
    result = save(visit, Sheet(before=CALM), "start")
    assert result.visit.state == "exercising"
    reading = visit.readings.get()
    assert (reading.heart_rate_bpm, reading.pressure, reading.weight_kg) == (68, "126/74", 80.0)


def test_hold_bars_the_start_but_what_was_typed_is_stored(visit, save):
    result = save(visit, Sheet(before=HIGH), "start")
    assert result.visit.state == "arrived"
    assert [f.rule_id for f in result.barred_by] == ["E-01"]
    assert visit.readings.get().systolic_mmhg == 186


def test_answered_hold_lets_the_start_pass(visit, save, clinician):
    save(visit, Sheet(before=HIGH), "start")
    finding = visit.findings.get()
    answer(finding, "proceed", "rechecked by hand, 176", by=clinician)
    assert save(visit, Sheet(before=HIGH), "start").visit.state == "exercising"
    finding.refresh_from_db()
    assert (finding.by, finding.decision) == (clinician, "proceed")


def held_with(finding, by, **more):
    told = more.pop("told", "")
    services_findings.answer_findings(finding.visit, [finding.pk], "hold", "", told, by=by, **more)
    return finding.visit.interruptions.get()


def test_a_hold_is_documented_with_its_decision(visit, save, nurse):
    save(visit, Sheet(before=HIGH))
    finding = visit.findings.get()
    row = held_with(
        finding, nurse, done="rested 10 min, 182/94", told="Dr Lind", return_condition="below 180"
    )
    finding.refresh_from_db()
    assert (row.seen, row.done, row.told) == (finding.sentence, "rested 10 min, 182/94", "Dr Lind")
    assert row.return_condition == "below 180"
    assert row.written_at is not None
    assert finding.reason == "rested 10 min, 182/94"


def test_a_hold_in_a_hurry_is_documented_later_with_what_was_said(visit, save, nurse):
    save(visit, Sheet(before=HIGH))
    finding = visit.findings.get()
    row = held_with(finding, nurse, done="sat down")
    assert (row.done, row.written_at) == ("sat down", None)
    finding.refresh_from_db()
    assert finding.decision == "hold"


def test_the_second_hold_of_a_visit_adds_to_the_first(visit, save, nurse):
    """Nothing that somebody wrote about the first is written over."""
    save(visit, Sheet(before=replace(HIGH, spo2_percent=80)))
    first, second = visit.findings.filter(level__gte=3).order_by("pk")[:2]
    held_with(first, nurse, done="rested", told="Dr Lind", return_condition="below 180")
    row = held_with(second, nurse, done="oxygen", return_condition="above 88 %", told="Ms Reed")
    assert row.done == "rested oxygen"
    assert row.return_condition == "below 180 above 88 %"
    assert row.told == "Dr Lind"


def test_going_on_needs_a_reason(visit, save, clinician):
    save(visit, Sheet(before=HIGH))
    with pytest.raises(ValidationError, match="needs a reason"):
        answer(visit.findings.get(), "proceed", "", by=clinician)


def test_floor_staff_going_on_must_name_the_clinician(visit, save, nurse):
    save(visit, Sheet(before=HIGH))
    finding = visit.findings.get()
    with pytest.raises(ValidationError, match="clinician"):
        answer(finding, "proceed", "feels fine", by=nurse)
    answer(finding, "proceed", "feels fine", "Dr Lind", by=nurse)


def test_finding_is_answered_once(visit, save, clinician):
    save(visit, Sheet(before=HIGH))
    finding = visit.findings.get()
    answer(finding, "hold", "sent home", by=clinician)
    visit.refresh_from_db()
    assert visit.state == "held"
    with pytest.raises(ValidationError, match="already answered"):
        answer(finding, "proceed", "no", by=clinician)


def test_repeat_reading_keeps_both_and_clears_the_finding(visit, save):
    save(visit, Sheet(before=HIGH))
    save(visit, Sheet(before=CALM), is_repeat=True)
    assert [r.systolic_mmhg for r in visit.readings.all()] == [186, 126]
    finding = visit.findings.get()
    assert finding.cleared_at is not None
    assert not finding.decision
    assert save(visit, Sheet(before=CALM), "start").visit.state == "exercising"


def test_correction_keeps_the_earlier_version(visit, save):
    save(visit, Sheet(before=HIGH))
    save(visit, Sheet(before=CALM), because="typed 186 for 126")
    reading = visit.readings.get()
    assert [v.systolic_mmhg for v in reading.history.all()] == [126, 186]
    assert reading.history.first().history_change_reason == "typed 186 for 126"


def test_worse_value_of_a_triggered_rule_is_a_new_finding(visit, save):
    save(visit, Sheet(before=HIGH))
    save(visit, Sheet(before=replace(HIGH, systolic_mmhg=192)))
    assert [(f.value, f.cleared_at is None) for f in visit.findings.order_by("pk")] == [
        (186, False),
        (192, True),
    ]


def exercising(visit, save):
    save(visit, Sheet(before=CALM), "start")


def test_stop_rule_bars_finishing_until_answered(visit, save, clinician):
    exercising(visit, save)
    sheet = Sheet(before=CALM, bouts=WORK, rhythm=Rhythm(pvc_per_minute=6), minutes=40)
    result = save(visit, sheet, "finish")
    assert result.visit.state == "exercising"
    assert [f.rule_id for f in result.barred_by] == ["F-21"]
    answer(visit.findings.get(), "stop", "PVCs, ECG taken", by=clinician)
    visit.refresh_from_db()
    assert visit.state == "stopped"


def test_falling_pressure_under_rising_load_stops(visit, save):
    exercising(visit, save)
    falling = (
        Load("treadmill", 10, speed_kmh=3, systolic_mmhg=150, diastolic_mmhg=80),
        Load("treadmill", 10, speed_kmh=4, systolic_mmhg=138, diastolic_mmhg=80),
    )
    save(visit, Sheet(before=CALM, bouts=falling))
    assert [f.rule_id for f in visit.findings.all()] == ["F-01"]


def test_insulin_user_with_85_is_held(visit, save, course):
    MedicineFactory(patient=course.patient, name="insulin glargine", drug_class="insulin")
    result = save(visit, Sheet(before=replace(CALM, glucose_mgdl=85.0)), "start")
    assert [f.rule_id for f in result.barred_by] == ["G-05"]


def test_weight_gain_counts_weights_of_the_last_three_days(visit, save, course):
    ConditionFactory(patient=course.patient, kind="heart_failure")
    for days, weight in [(4, 70.0), (2, 78.2)]:
        earlier = VisitFactory(
            enrolment=course,
            meeting__on=visit.on - timedelta(days=days),
            meeting__slot=ClassSlotFactory(site=course.patient.site),
        )
        ReadingFactory(visit=earlier, weight_kg=weight)
    save(visit, Sheet(before=CALM))
    (finding,) = visit.findings.all()
    assert (finding.rule_id, finding.level, finding.value) == ("E-10", 2, 1.8)


def test_holding_today_answers_the_findings(visit, save):
    save(visit, Sheet(before=HIGH))
    result = save(visit, Sheet(before=HIGH), "hold")
    assert result.visit.state == "held"
    assert visit.findings.get().decision == "hold"
    assert result.visit.sessions_counted == 0


def test_same_form_twice_counts_once(visit, save):
    key = uuid.uuid4()
    save(visit, Sheet(before=CALM), key=key)
    with pytest.raises(AlreadyTaken):
        save(visit, Sheet(before=HIGH), key=key)
    assert visit.readings.get().systolic_mmhg == 126


def test_refused_form_leaves_its_key_free(visit, save):
    key = uuid.uuid4()
    with pytest.raises(ValidationError):
        save(visit, Sheet(before=CALM), "finish", key=key)
    save(visit, Sheet(before=CALM), key=key)


def test_stale_form_changes_nothing(visit, save):
    seen = visit.version
    save(visit, Sheet(before=CALM))
    with pytest.raises(StaleVersion):
        save(visit, Sheet(before=HIGH), seen=seen)
    assert visit.readings.get().systolic_mmhg == 126


def test_past_steps_are_refused(visit, save):
    with pytest.raises(ValidationError, match="past"):
        save(visit, Sheet(before=CALM, minutes=40), "finish")


def finish(visit, save, minutes):
    exercising(visit, save)
    return save(visit, Sheet(before=CALM, bouts=WORK, minutes=minutes), "finish").visit


@pytest.mark.parametrize(("minutes", "counted"), [(30, 0), (31, 1), (90, 1), (91, 2)])
def test_minutes_make_sessions(visit, save, minutes, counted):
    assert finish(visit, save, minutes).sessions_counted == counted


def test_two_visits_of_a_day_are_counted_together(visit, save, course, nurse):
    other = PlannedSessionFactory(enrolment=course)
    finish(visit, save, 60)
    second = finish(services.arrive(other, by=nurse), save, 31)
    visit.refresh_from_db()
    assert (visit.sessions_counted, second.sessions_counted) == (1, 1)


def test_correcting_minutes_recounts(visit, save):
    finish(visit, save, 31)
    visit.refresh_from_db()
    result = save(visit, Sheet(before=CALM, bouts=WORK, minutes=20))
    assert result.visit.sessions_counted == 0


def test_bout_gets_its_mets(visit, save):
    finish(visit, save, 40)
    assert visit.bouts.get().mets == pytest.approx(3.0)  # ACSM: 4.2 km/h level is 3.00 METs


def test_the_stepper_says_what_it_counts(client, nurse, visit, save):
    """The ACSM equation counts whole cycles, up and down: half of what single feet would be."""
    save(visit, Sheet(before=CALM), "start")
    client.force_login(nurse)
    page = client.get(reverse("attendance:sheet", args=[visit.pk])).content.decode()
    assert "Step cycles/min" in page


def test_emptied_bout_is_withdrawn_not_deleted(visit, save):
    finish(visit, save, 40)
    save(visit, Sheet(before=CALM, bouts=(Load(""),), minutes=40))
    bout = visit.bouts.get()
    assert bout.is_withdrawn
    assert bout.minutes == 20


def test_rhythm_is_kept_with_its_history(visit, save):
    exercising(visit, save)
    save(visit, Sheet(before=CALM, rhythm=Rhythm(pvc_per_minute=2)))
    save(visit, Sheet(before=CALM, rhythm=Rhythm(pvc_per_minute=3)))
    assert [v.pvc_per_minute for v in visit.rhythm.history.all()] == [3, 2]


def test_nothing_triggered_stores_no_finding(visit, save):
    save(visit, Sheet(before=CALM))
    assert not Finding.objects.exists()


def test_stopped_session_of_31_minutes_counts(visit, save):
    exercising(visit, save)
    result = save(visit, Sheet(before=CALM, bouts=WORK, minutes=31), "stop")
    assert (result.visit.state, result.visit.sessions_counted) == ("stopped", 1)
    assert result.visit.ended_at <= timezone.now()


# --- a hold never clears itself ------------------------------------------------------------


def test_repeat_of_one_reading_leaves_the_other_hold_standing(visit, save):
    save(visit, Sheet(before=replace(HIGH, spo2_percent=85)))
    result = save(visit, Sheet(before=Vitals(None, 150, 80)), "start", is_repeat=True)
    assert [f.rule_id for f in result.barred_by] == ["E-18"]
    assert result.visit.state == "arrived"


def test_blanked_reading_leaves_the_hold_standing(visit, save):
    save(visit, Sheet(before=replace(CALM, spo2_percent=85)))
    blank = Sheet(before=replace(CALM, spo2_percent=None))
    with pytest.raises(ValidationError, match="emptied"):
        save(visit, blank, "start")
    result = save(visit, blank, "start", because="probe fell off")
    assert [f.rule_id for f in result.barred_by] == ["E-18"]


def test_correction_after_a_repeat_touches_the_row_that_holds_the_value(visit, save):
    save(visit, Sheet(before=HIGH))
    save(visit, Sheet(before=Vitals(None, 150, 80)), is_repeat=True)
    right = replace(CALM, systolic_mmhg=150, diastolic_mmhg=80, spo2_percent=95)
    save(visit, Sheet(before=right), because="misread")
    first, second = visit.readings.all()
    assert (first.systolic_mmhg, first.spo2_percent) == (186, 95)
    assert (second.systolic_mmhg, second.spo2_percent) == (150, None)


def test_stop_before_exercise_holds(visit, save, nurse):
    save(visit, Sheet(before=HIGH))
    answer(visit.findings.get(), "stop", "sent to the clinician", by=nurse)
    visit.refresh_from_db()
    assert visit.state == "held"


def test_form_without_the_exercise_part_keeps_what_is_on_record(visit, save):
    exercising(visit, save)
    save(visit, Sheet(before=CALM, bouts=WORK, rhythm=Rhythm(pvc_per_minute=8), minutes=20))
    right = Sheet(before=replace(CALM, heart_rate_bpm=70), has_exercise_part=False)
    save(visit, right, because="misread")
    visit.refresh_from_db()
    assert visit.minutes == 20
    assert not visit.bouts.get().is_withdrawn
    assert visit.rhythm.pvc_per_minute == 8
    assert visit.findings.get().cleared_at is None


def test_minutes_of_an_earlier_visit_corrected_later_recount(visit, save, course, nurse):
    other = PlannedSessionFactory(enrolment=course)
    exercising(visit, save)
    save(visit, Sheet(before=CALM, bouts=WORK), "stop")
    written_up(visit, by=nurse)
    later = services.arrive(other, by=nurse)
    save(later, Sheet(before=CALM))  # the stop of the first is not settled yet
    answer(later.findings.get(rule_id="E-31"), "proceed", "well again", "Dr Lind", by=nurse)
    second = finish(later, save, 60)
    assert second.sessions_counted == 1
    result = save(visit, Sheet(before=CALM, bouts=WORK, minutes=40))
    second.refresh_from_db()
    assert (result.visit.sessions_counted, second.sessions_counted) == (1, 1)


def test_two_short_visits_of_a_day_are_two_sessions_everywhere(visit, save, course, nurse):
    other = PlannedSessionFactory(enrolment=course)
    finish(visit, save, 50)
    finish(services.arrive(other, by=nurse), save, 50)
    assert course.visits.n_sessions() == 2
    site, on = course.patient.site, visit.on
    numbers = [
        day_of(site, on, slot).rows[0].session_number
        for slot in (visit.meeting.slot_id, other.slot_id)
    ]
    assert numbers == [1, 2]


def test_nobody_is_checked_in_ahead_of_time(planned, nurse):
    planned.on += timedelta(days=7)
    planned.save()
    with pytest.raises(ValidationError, match="not today"):
        services.arrive(planned, by=nurse)


def test_reading_before_exercise_is_not_repeated_during_it(visit, save):
    """A lower baseline must not make a fall in pressure disappear."""
    exercising(visit, save)
    fallen = (Load("treadmill", 10, speed_kmh=4, systolic_mmhg=112, diastolic_mmhg=70),)
    save(visit, Sheet(before=CALM, bouts=fallen))
    assert [f.rule_id for f in visit.findings.all()] == ["F-01"]
    with pytest.raises(ValidationError, match="before exercise only"):
        save(visit, Sheet(before=Vitals(None, 114, 70), bouts=fallen), is_repeat=True)


def test_stop_finding_is_answered_never_cleared(visit, save):
    exercising(visit, save)
    save(visit, Sheet(before=CALM, rhythm=Rhythm(pvc_per_minute=7)))
    result = save(visit, Sheet(before=CALM, rhythm=Rhythm(pvc_per_minute=0), minutes=40), "finish")
    assert [f.rule_id for f in result.barred_by] == ["F-21"]


def test_absence_does_not_land_on_readings(visit, planned, save, nurse):
    save(visit, Sheet(before=CALM))
    with pytest.raises(ValidationError, match="Something is recorded"):
        services.mark_absent(planned, "ill", by=nurse)
