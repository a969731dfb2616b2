"""The floor's own records: limits, holds and stops, low glucose, classes, events, teaching."""

import uuid
from dataclasses import replace
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from patients.calc.units import glucose_mgdl
from patients.history import StaleVersion
from programs.attendance.calc.effort import Load
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.questions import ASKED_BEFORE
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.care import services as services_care
from programs.attendance.events import services as services_events
from programs.attendance.findings import (
    interruptions as services_interruptions,
)
from programs.attendance.findings import (
    services as services_findings,
)
from programs.attendance.findings.known import known_of
from programs.attendance.limits import services as services_limits
from programs.attendance.limits.queries import rules_for
from programs.attendance.meeting import services as services_meeting
from programs.attendance.models import HomeReport, Reading, Teaching
from programs.attendance.sheet.services import save_sheet
from programs.attendance.teaching import services as services_teaching
from programs.attendance.today.queries import day_of
from programs.attendance.visit import services
from programs.enrolment.models import ClassChange
from programs.staff import services as readiness
from programs.staff.calc.readiness import ITEMS
from programs.staff.models import Credential
from tests.factories.attendance import (
    InterruptionFactory,
    PersonLimitFactory,
    ReadingFactory,
    SiteLimitFactory,
    TeachingFactory,
    VisitFactory,
)
from tests.factories.enrolment import (
    ClassSlotFactory,
    EntryScreenFactory,
    PlannedSessionFactory,
)
from tests.factories.patients import ConditionFactory, MedicineFactory
from tests.factories.prescription import PrescriptionFactory
from tests.factories.staff import CredentialFactory, DrillFactory, OpeningCheckFactory

pytestmark = pytest.mark.django_db
CALM = Vitals(68, 126, 74, 97, None, 80.0)
HIGH = replace(CALM, systolic_mmhg=186)
ALL_NO = {q.id: False for q in ASKED_BEFORE}
WORK = (Load("treadmill", 20, speed_kmh=4.2, heart_rate_bpm=96, rpe=12),)


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


def ids(visit):
    return sorted(f.rule_id for f in visit.findings.all() if f.is_open)


# --- limits ----------------------------------------------------------------------------------


def test_site_limit_judges_the_next_sheet_and_says_whose_it_is(visit, save, site, people):
    admin = people["administrator"]
    services_limits.set_site_limit(site, "E-01-hold", 170, "protocol 4.2", seen=0, by=admin)
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=172)))
    finding = visit.findings.get()
    assert (finding.level_word, finding.limit) == ("hold", 170)
    assert finding.origin.startswith("site setting of")


def test_site_limit_has_bounds_reason_versions_and_a_way_back(site, people):
    admin = people["administrator"]
    with pytest.raises(ValidationError):
        services_limits.set_site_limit(site, "E-01-hold", 230, "why not", seen=0, by=admin)
    with pytest.raises(ValidationError):
        services_limits.set_site_limit(site, "E-01-hold", 170, "", seen=0, by=admin)
    with pytest.raises(ValidationError, match="no limit"):
        services_limits.set_site_limit(site, "F-14-asks_to_stop-stop", 1, "x", seen=0, by=admin)
    row = services_limits.set_site_limit(site, "E-01-hold", 170, "protocol", seen=0, by=admin)
    with pytest.raises(StaleVersion):
        services_limits.set_site_limit(site, "E-01-hold", 175, "other", seen=0, by=admin)
    services_limits.set_site_limit(site, "E-01-hold", None, "back", seen=row.version, by=admin)
    assert [v.limit for v in row.history.all()] == [None, 170]


def test_person_limit_is_tighter_holds_at_once_and_ends_with_a_reason(visit, course, clinician):
    patient = course.patient
    SiteLimitFactory(site=patient.site, limit=170)
    with pytest.raises(ValidationError, match="not tighter"):
        services_limits.set_person_limit(patient, "E-01-hold", 175, "x", by=clinician)
    row = services_limits.set_person_limit(patient, "E-01-hold", 150, "letter", by=clinician)
    assert next(r for r in rules_for(patient) if r.key == "E-01-hold").limit == 150
    with pytest.raises(ValidationError, match="already has a limit"):
        services_limits.set_person_limit(patient, "E-01-hold", 145, "x", by=clinician)
    with pytest.raises(ValidationError, match="reason"):
        services_limits.end_person_limit(row, " ", by=clinician)
    services_limits.end_person_limit(row, "cardiologist agrees", by=clinician)
    assert next(r for r in rules_for(patient) if r.key == "E-01-hold").limit == 170


def test_limit_of_one_person_is_nobody_elses(course, site):
    PersonLimitFactory(patient=course.patient)
    other = PlannedSessionFactory(enrolment__patient__site=site).enrolment.patient
    assert next(r for r in rules_for(other) if r.key == "E-01-hold").limit == 180


# --- what the record says ----------------------------------------------------------------------


def test_entry_screen_that_says_not_yet_bars_the_start(visit, save, course):
    EntryScreenFactory(patient=course.patient, decision="not_yet", answers={"E-08": True})
    result = save(visit, Sheet(before=CALM), "start")
    assert {f.rule_id for f in result.barred_by} == {"E-08", "E-entry"}


def test_start_in_spite_of_a_finding_is_a_note_on_the_floor(visit, save, course):
    EntryScreenFactory(
        patient=course.patient, decision="may_start", answers={"E-08": True}, reason="discussed"
    )
    assert save(visit, Sheet(before=CALM), "start").visit.state == "exercising"
    assert [(f.rule_id, f.level_word) for f in visit.findings.all()] == [("E-08", "note")]


def test_record_of_the_person_reaches_the_rules(visit, course):
    for kind in ["insulin", "beta_blocker"]:
        MedicineFactory(patient=course.patient, drug_class=kind)
    ConditionFactory(patient=course.patient, kind="mi", happened_on=visit.on - timedelta(days=9))
    PrescriptionFactory(enrolment=course, upper_limit_bpm=118)
    record = known_of(visit)
    assert (record.uses_insulin, record.has_beta_blocker, record.upper_limit_bpm) == (
        True, True, 118,
    )  # fmt: skip
    assert record.days_since_mi == 9


def test_rate_above_the_persons_own_limit_is_said(visit, save, course):
    PrescriptionFactory(enrolment=course, upper_limit_bpm=118)
    save(visit, Sheet(before=CALM), "start")
    hot = (replace(WORK[0], heart_rate_bpm=121),)
    save(visit, Sheet(before=CALM, bouts=hot))
    assert [(f.rule_id, f.value) for f in visit.findings.all()] == [("H-08", 3)]


def test_two_yes_answers_of_one_rule_are_two_findings(visit, save, clinician):
    save(visit, Sheet(before=CALM, answers={"fell": True, "missed_doses": True}))
    assert ids(visit) == ["E-19", "E-19"]
    right = Sheet(before=CALM, answers={"fell": True, "missed_doses": False})
    with pytest.raises(ValidationError, match="Heart medicine missed"):
        save(visit, right)
    save(visit, right, because="asked again: taken late, not missed")
    about = [f.about for f in visit.findings.all() if f.is_open]
    assert about == ["fell", "missed_doses"]  # a symptom taken back waits for a clinician
    save(visit, right, by=clinician)
    assert [f.about for f in visit.findings.all() if f.is_open] == ["fell"]


def test_rhythm_before_exercise_can_bar_the_start(visit, save):
    sheet = Sheet(before=CALM, rhythm=Rhythm(before="af_new"), has_exercise_part=False)
    assert [f.rule_id for f in save(visit, sheet, "start").barred_by] == ["E-05"]


def test_recovery_finding_bars_the_finish(visit, save):
    save(visit, Sheet(before=CALM), "start")
    low = Vitals(80, 86, 50)
    sheet = Sheet(before=CALM, recovery=low, bouts=WORK, minutes=40)
    result = save(visit, sheet, "finish")
    assert [f.rule_id for f in result.barred_by] == ["R-01"]
    assert result.visit.state == "exercising"
    better = replace(sheet, recovery=Vitals(78, 112, 66))
    assert save(visit, better, "finish").visit.state == "finished"  # cleared by the new reading


def test_finish_without_recovery_says_what_was_not_checked(visit, save):
    save(visit, Sheet(before=CALM), "start")
    result = save(visit, Sheet(before=CALM, bouts=WORK, minutes=40), "finish")
    assert result.visit.state == "finished"
    assert any("recovery" in words for words in result.missing)


# --- holds and stops ---------------------------------------------------------------------------


def test_hold_is_a_record_that_stands_on_the_next_visit(visit, save, course, nurse, clinician):
    save(visit, Sheet(before=HIGH))
    save(visit, Sheet(before=HIGH), "hold")
    row = visit.interruptions.get()
    assert "186" in row.seen
    with pytest.raises(ValidationError):
        services_interruptions.write_up(
            row, seen="186 twice", done="", told="Dr Lind", return_condition="seen", by=nurse
        )
    services_interruptions.write_up(
        row, seen="186 twice", done="rested", told="Dr Lind", return_condition="below 160", by=nurse
    )
    later = services.arrive(PlannedSessionFactory(enrolment=course), by=nurse)
    assert [f.rule_id for f in save(later, Sheet(before=CALM), "start").barred_by] == ["E-31"]
    (shown,) = services_interruptions.unsettled(later)
    assert shown.return_condition == "below 160"
    keys = [f.pk for f in later.findings.all()]
    services_findings.answer_findings(later, keys, "proceed", "148 today", by=clinician)
    row.refresh_from_db()
    assert (row.settled_by, row.settled_words) == (clinician, "148 today")
    assert save(later, Sheet(before=CALM), "start").visit.state == "exercising"


def test_hold_of_another_person_bars_nobody(visit, save):
    InterruptionFactory(visit__meeting__on=visit.on - timedelta(days=2))
    assert save(visit, Sheet(before=CALM), "start").visit.state == "exercising"


def test_next_visit_shows_the_hold_on_the_roster(visit, course, site):
    earlier = VisitFactory(
        enrolment=course, state="held", meeting__on=visit.on - timedelta(days=2),
        meeting__slot=ClassSlotFactory(site=site),
    )  # fmt: skip
    stop = InterruptionFactory(visit=earlier)
    row = day_of(site, visit.on, visit.meeting.slot_id).rows[0]
    assert row.earlier_stop == f"held {stop.visit.on:%-d %b}, return not confirmed"


def test_several_findings_are_answered_in_one_decision(visit, save, clinician):
    save(visit, Sheet(before=replace(HIGH, spo2_percent=85)))
    keys = [f.pk for f in visit.findings.all()]
    services_findings.answer_findings(visit, keys, "hold", "sent home", "Dr Lind", by=clinician)
    assert {f.decision for f in visit.findings.all()} == {"hold"}
    assert visit.interruptions.get().told == "Dr Lind"


def test_decision_about_nothing_or_about_something_answered_is_refused(visit, save, clinician):
    save(visit, Sheet(before=HIGH))
    key = visit.findings.get().pk
    for keys in [[], [key + 99]]:
        with pytest.raises(ValidationError, match="still open"):
            services_findings.answer_findings(visit, keys, "hold", "x", by=clinician)


def test_finish_hold_and_stop_are_taken_back_with_a_reason(visit, save, nurse):
    save(visit, Sheet(before=CALM), "start")
    save(visit, Sheet(before=CALM, bouts=WORK, minutes=40), "finish")
    visit.refresh_from_db()
    with pytest.raises(ValidationError, match="reason"):
        services_interruptions.take_back(visit, " ", seen=visit.version, by=nurse)
    with pytest.raises(StaleVersion):
        services_interruptions.take_back(visit, "wrong person", seen=1, by=nurse)
    back = services_interruptions.take_back(visit, "wrong row", seen=visit.version, by=nurse)
    back.refresh_from_db()
    assert (back.state, back.sessions_counted, back.ended_at) == ("exercising", 0, None)
    save(back, Sheet(before=CALM, bouts=WORK), "stop")
    back.refresh_from_db()
    services_interruptions.take_back(back, "slipped", seen=back.version, by=nurse)
    assert back.interruptions.get().is_taken_back
    assert services_interruptions.unsettled(VisitFactory(enrolment=back.enrolment)) == []


def test_held_before_exercise_goes_back_to_before_exercise(visit, save, nurse):
    save(visit, Sheet(before=CALM), "hold")
    visit.refresh_from_db()
    back = services_interruptions.take_back(visit, "slipped", seen=visit.version, by=nurse)
    assert back.state == "arrived"


def test_hold_taken_back_is_decided_anew_before_a_start(visit, save, nurse):
    """The reading is as high as before: taking the hold back must not let the start pass."""
    save(visit, Sheet(before=HIGH), "hold")
    visit.refresh_from_db()
    services_interruptions.take_back(visit, "slipped", seen=visit.version, by=nurse)
    result = save(visit, Sheet(before=HIGH), "start")
    assert [f.rule_id for f in result.barred_by] == ["E-01"]
    started, left = services_meeting.start_ready(visit.meeting, by=nurse)
    assert (started, [why for _, why in left]) == ([], ["a finding is open"])


def test_stop_taken_back_bars_the_finish_until_decided(visit, save, nurse):
    save(visit, Sheet(before=CALM), "start")
    ectopy = Sheet(before=CALM, bouts=WORK, rhythm=Rhythm(pvc_per_minute=8), minutes=40)
    save(visit, ectopy, "stop")
    visit.refresh_from_db()
    services_interruptions.take_back(visit, "slipped", seen=visit.version, by=nurse)
    assert [f.rule_id for f in save(visit, ectopy, "finish").barred_by] == ["F-21"]


def test_start_all_judges_by_the_limits_of_the_moment(visit, save, course, nurse, clinician):
    save(visit, Sheet(before=replace(CALM, systolic_mmhg=158)))
    services_limits.set_person_limit(course.patient, "E-01-hold", 150, "letter", by=clinician)
    _, left = services_meeting.start_ready(visit.meeting, by=nurse)
    assert [why for _, why in left] == ["a finding is open"]


# --- low glucose -------------------------------------------------------------------------------


@pytest.fixture
def insulin(course):
    MedicineFactory(patient=course.patient, name="insulin glargine", drug_class="insulin")


def test_low_is_treated_rechecked_and_the_bar_of_24_hours_stays(visit, save, insulin, nurse):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=48.0)))
    assert set(ids(visit)) == {"G-01", "G-02", "G-05", "G-06"}
    services_care.give_carbohydrate(visit, 15, "juice", by=nurse)
    services_care.recheck(visit, Glucose(112), by=nurse)
    bars = [f.rule_id for f in visit.findings.all() if f.bars_start]
    # Below 2.9 mmol/L within 24 hours (Turner 2019), and a level 2 low (ADA 2017) that no recheck
    # settles.
    assert bars == ["G-02", "G-06"]
    assert visit.readings.count() == 2


def test_mild_low_clears_with_a_note(visit, save, insulin, nurse):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=64.0)))
    services_care.recheck(visit, Glucose(118), by=nurse)
    open_ones = {f.rule_id: f.level_word for f in visit.findings.all() if f.is_open}
    assert open_ones == {"G-07": "note", "G-05": "note"}
    visit.refresh_from_db()
    assert save(visit, Sheet(before=replace(CALM, glucose_mgdl=118.0)), "start").visit.state == (
        "exercising"
    )


def test_severe_low_of_yesterday_bars_today(visit, save, course, site):
    earlier = VisitFactory(
        enrolment=course, meeting__on=visit.on - timedelta(days=1),
        meeting__slot=ClassSlotFactory(site=site), finished=True,
    )  # fmt: skip
    ReadingFactory(
        visit=earlier, glucose_mgdl=50, taken_at=timezone.now() - timedelta(hours=23, minutes=50)
    )
    assert "G-06" in {f.rule_id for f in save(visit, Sheet(before=CALM), "start").barred_by}


def test_severe_low_of_more_than_a_day_ago_does_not(visit, save, course, site):
    earlier = VisitFactory(
        enrolment=course, meeting__on=visit.on - timedelta(days=2),
        meeting__slot=ClassSlotFactory(site=site), finished=True,
    )  # fmt: skip
    ReadingFactory(
        visit=earlier, glucose_mgdl=50, taken_at=timezone.now() - timedelta(hours=24, minutes=5)
    )
    assert save(visit, Sheet(before=CALM), "start").visit.state == "exercising"


def test_somebody_had_to_help_is_level_3(visit, save, insulin, nurse):
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=60.0)))
    services_care.recheck(visit, Glucose(100), needed_help=True, by=nurse)
    assert "G-03" in ids(visit)
    save(visit, Sheet(before=replace(CALM, glucose_mgdl=100.0)))  # the sheet does not ask it again
    assert "G-03" in ids(visit)


def test_meter_in_mmoll_is_stored_once_and_judged_in_its_unit(visit, save, insulin):
    typed = replace(CALM, glucose_mgdl=glucose_mgdl(19.4), glucose_is_mmoll=True)
    save(visit, Sheet(before=typed))
    reading = visit.readings.get()
    assert reading.glucose_mgdl == pytest.approx(349.5, abs=0.01)  # hand-worked: 19.4 x 18.0156
    assert reading.glucose_words == "19.4 mmol/L (350 mg/dL)"
    high = {(f.rule_id, f.about, f.level_word) for f in visit.findings.all()}
    assert ("G-05", "high", "hold") in high  # Colberg 2016: 19.4 mmol/L and more


# --- a class as a whole ------------------------------------------------------------------------


@pytest.fixture
def ready(site, people):
    """Everything a class asks for, and the people who run it."""
    OpeningCheckFactory(site=site)
    DrillFactory(site=site)
    for role in ["floor", "clinician"]:
        CredentialFactory(user=people[role], kind="BLS")
        CredentialFactory(user=people[role], kind="ACLS")
    return {"staff": [people["floor"], people["clinician"]], "supervisor": people["physician"]}


@pytest.fixture
def closed(course, site):
    """A planned session in a class that is not open."""
    return PlannedSessionFactory(enrolment=course, is_open=False)


def test_nobody_starts_before_the_class_is_open(closed, save, ready, nurse):
    visit = services.arrive(closed, by=nurse)
    with pytest.raises(ValidationError, match="not open"):
        save(visit, Sheet(before=CALM), "start")
    services_meeting.open_class(closed.slot, closed.on, by=nurse, **ready)
    assert save(visit, Sheet(before=CALM), "start").visit.state == "exercising"


def test_class_opens_with_an_exception_in_words_never_silently(closed, nurse, people):
    lone = {"staff": [people["floor"]], "supervisor": None}
    with pytest.raises(ValidationError) as refused:
        services_meeting.open_class(closed.slot, closed.on, by=nurse, **lone)
    assert any("J-01" in words for words in refused.value.messages)
    row = services_meeting.open_class(
        closed.slot, closed.on, exception="second nurse on the way", by=nurse, **lone
    )
    assert row.exception == "second nurse on the way"
    assert any("J-04" in words for words in row.unmet)


def test_nobody_with_an_expired_card_is_assigned(closed, ready, nurse):
    site_day = closed.on
    card = Credential.objects.filter(user=ready["staff"][0], kind="BLS").get()
    card.expires_on = site_day - timedelta(days=1)
    card.save()
    with pytest.raises(ValidationError, match="expired"):
        services_meeting.open_class(closed.slot, closed.on, exception="still", by=nurse, **ready)
    CredentialFactory(user=ready["staff"][0], kind="BLS")  # renewed
    assert services_meeting.open_class(closed.slot, closed.on, by=nurse, **ready).is_open


def test_start_all_takes_those_who_are_ready_and_says_who_is_not(planned, save, nurse, site):
    slot = planned.slot
    others = [PlannedSessionFactory(enrolment__patient__site=site, slot=slot) for _ in range(4)]
    MedicineFactory(patient=others[3].enrolment.patient, drug_class="insulin")
    visits = [services.arrive(p, by=nurse) for p in (planned, *others)]
    for visit in visits:
        EntryScreenFactory(
            patient=visit.enrolment.patient,
            answers=dict.fromkeys(["E-08", "E-08b", "E-11", "E-12", "E-21"], False),
            found="nothing",
            decision="may_start",
        )
    save(visits[0], Sheet(before=CALM, answers=ALL_NO, has_ecg=False))
    save(visits[1], Sheet(before=HIGH, answers=ALL_NO, has_ecg=False))
    save(visits[3], Sheet(before=CALM, answers={"chest_pain": False}))
    save(visits[4], Sheet(before=CALM, answers=ALL_NO, has_ecg=False))
    started, left = services_meeting.start_ready(visits[0].meeting, by=nurse)
    assert [v.pk for v in started] == [visits[0].pk]
    assert [why for _, why in left] == [
        "a finding is open",
        "not taken yet: blood pressure, heart rate, oxygen saturation, rhythm before exercise, "
        "the questions before exercise",
        "not taken yet: rhythm before exercise, the questions before exercise",
        "not taken yet: glucose, asked for because insulin or a secretagogue is listed",
    ]


def test_closing_notes_who_did_not_come_and_waits_for_who_is_here(planned, save, nurse, site):
    other = PlannedSessionFactory(enrolment__patient__site=site, slot=planned.slot)
    visit = services.arrive(planned, by=nurse)
    with pytest.raises(ValidationError) as refused:
        services_meeting.close_class(planned.slot, planned.on, {}, by=nurse)
    assert "is checked in" in refused.value.messages[1]
    save(visit, Sheet(before=CALM), "hold")
    services_meeting.close_class(planned.slot, planned.on, {other.pk: "transport"}, by=nurse)
    assert other.enrolment.visits.get().absence == "transport"
    services_meeting.reopen_class(planned.slot, planned.on, by=nurse)
    visit.meeting.refresh_from_db()
    assert visit.meeting.closed_at is None


def test_check_that_is_not_in_order_needs_a_note(site, nurse):
    answers = {key: True for key, _, _ in ITEMS} | {"oxygen": False}
    with pytest.raises(ValidationError, match="note"):
        readiness.record_check(site, answers, by=nurse)
    key = uuid.uuid4()
    row = readiness.record_check(site, answers, "spare bottle ordered", key=key, by=nurse)
    assert row.wrong == ["Oxygen full, masks there"]


# --- events, teaching, home ----------------------------------------------------------------------


def test_event_starts_with_one_press_and_ends_with_a_review(site, visit, nurse, clinician):
    event = services_events.open_event(site, "emergency", by=nurse)
    assert event.entries.get().words == "Time line started."
    with pytest.raises(ValidationError, match="Before the review"):
        services_events.review_event(event, "looked at", seen=event.version, by=clinician)
    event = services_events.change_event(
        event, seen=event.version, by=nurse, patient=visit.enrolment.patient,
        what="Collapsed at the cycle.", told="911, Dr Lind", outcome="Taken to hospital.",
    )  # fmt: skip
    with pytest.raises(StaleVersion):
        services_events.change_event(event, seen=1, by=nurse, what="other")
    event = services_events.review_event(event, "reviewed", seen=event.version, by=clinician)
    with pytest.raises(ValidationError, match="reviewed"):
        services_events.change_event(event, seen=event.version, by=nurse, what="late")
    services_events.add_entry(event, "family called", by=nurse)  # the time line goes on


def test_time_line_holds_what_has_happened(site, nurse):
    ahead = timezone.now() + timedelta(minutes=5)
    with pytest.raises(ValidationError):
        services_events.open_event(site, "fall", happened_at=ahead, by=nurse)
    event = services_events.open_event(site, "fall", by=nurse)
    with pytest.raises(ValidationError):
        services_events.add_entry(event, "x", at=ahead, by=nurse)
    entry = event.entries.get()
    services_events.withdraw_entry(entry, by=nurse)
    entry.refresh_from_db()
    assert entry.is_withdrawn


def test_teaching_of_a_class_and_an_entry_in_error(course, site, nurse):
    other = PlannedSessionFactory(enrolment__patient__site=site).enrolment
    rows = services_teaching.teach(
        [course, other], site.today(), "nutrition", "Salt and fluids", 15, by=nurse
    )
    assert len(rows) == 2
    services_teaching.withdraw_teaching(rows[0], by=nurse)
    rows[0].refresh_from_db()
    assert rows[0].is_withdrawn
    with pytest.raises(ValidationError):
        services_teaching.teach(
            [course], site.today() + timedelta(days=1), "nutrition", "x", None, by=nurse
        )
    assert TeachingFactory(enrolment=course).pk


def test_teaching_of_a_whole_class_is_one_save_or_none(course, site, nurse):
    def teach(people, minutes):
        topic = ("nutrition", "Salt and fluids")
        return services_teaching.teach(people, site.today(), *topic, minutes, by=nurse)

    more = [PlannedSessionFactory(enrolment__patient__site=site).enrolment for _ in range(5)]
    used = {}
    for people in ([course], [course, *more]):
        with CaptureQueriesContext(connection) as seen:
            rows = teach(people, 15)
        used[len(people)] = len(seen)
        for row in rows:
            (kept,) = row.history.all()
            assert (kept.history_user, kept.history_change_reason) == (nurse, "education recorded")
    assert used[1] == used[6]
    with pytest.raises(ValidationError, match="1 to 240 minutes"):
        teach([course, *more], 241)
    assert Teaching.objects.count() == Teaching.history.count() == 7


def test_home_report_is_one_a_week_and_never_ahead(course, site, nurse):
    monday = site.today() - timedelta(days=site.today().weekday())
    services_teaching.report_home(
        HomeReport(enrolment=course, week_of=monday, minutes=90), by=nurse
    )
    with pytest.raises(ValidationError, match="already reported"):
        services_teaching.report_home(
            HomeReport(enrolment=course, week_of=monday, days=3), by=nurse
        )
    empty = HomeReport(enrolment=course, week_of=monday - timedelta(days=7))
    with pytest.raises(ValidationError, match="at least one"):
        services_teaching.report_home(empty, by=nurse)
    ahead = HomeReport(enrolment=course, week_of=monday + timedelta(days=7), minutes=1)
    with pytest.raises(ValidationError, match="not begun"):
        services_teaching.report_home(ahead, by=nurse)


def test_late_is_told_from_the_hour_of_the_day(planned, nurse, clinician, site):
    visit = services.arrive(planned, by=nurse)
    came = visit.arrived_at.astimezone(site.now().tzinfo)
    slot = planned.slot
    slot.starts_at = came.replace(hour=0, minute=0).time()
    slot.save()
    if came.hour >= 1:  # an hour in which somebody could be late
        moved = came - timedelta(minutes=12)
        ClassChange.objects.create(
            slot=slot, on=planned.on, starts_at=moved.time().replace(second=0), reason="staff"
        )
        (row,) = day_of(site, planned.on, slot.pk).rows
        assert row.late_minutes in {12, 13}
        assert "min late" in row.state_words


def test_arrival_is_corrected_to_an_hour_that_has_come(visit, site, nurse):
    now = site.now()
    fixed = services.correct_arrival(
        visit, now.replace(hour=0, minute=0).time(), seen=visit.version, by=nurse
    )
    assert fixed.arrived_at.astimezone(now.tzinfo).hour == 0
    with pytest.raises(StaleVersion):
        services.correct_arrival(visit, now.time(), seen=visit.version, by=nurse)
    if now.hour < 23:
        ahead = (now + timedelta(hours=1)).time()
        with pytest.raises(ValidationError, match="not come"):
            services.correct_arrival(visit, ahead, seen=fixed.version, by=nurse)


def test_recovery_and_standing_readings_are_rows_of_their_own(visit, save):
    standing = replace(CALM, standing_systolic_mmhg=104, standing_diastolic_mmhg=70)
    save(visit, Sheet(before=standing, answers={"dizzy": True}), "save")
    assert ids(visit) == ["E-03", "E-30"]
    assert Reading.objects.get(phase="before").standing_systolic_mmhg == 104
