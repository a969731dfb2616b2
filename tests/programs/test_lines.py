"""The class as one table: a line saves through the sheet's form, rules, keys and locks."""

import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from patients.calc.measuring import LB, MMOL_L, Units
from programs.attendance.calc.questions import ASKED_AFTER, ASKED_BEFORE, SEEN_DURING
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Vitals
from programs.attendance.calc.stages import stage_of
from programs.attendance.calc.workload import SET_TO
from programs.attendance.findings.known import known_of
from programs.attendance.line.boxes import as_sent
from programs.attendance.line.services import stop_now, undo_stop
from programs.attendance.models import Bout, Interruption, Visit
from programs.attendance.sheet.about import About
from programs.attendance.sheet.forms import SheetForm
from programs.attendance.sheet.stored import initial_of
from programs.attendance.visit.queries import stored_sheet, with_detail
from programs.attendance.visit.services import arrive
from tests.factories.attendance import (
    BoutFactory,
    FindingFactory,
    ReadingFactory,
    RhythmFactory,
    VisitFactory,
)
from tests.factories.enrolment import ClassSlotFactory, EntryScreenFactory, PlannedSessionFactory
from tests.factories.patients import BodyWeightFactory, ConditionFactory, DeviceFactory
from tests.factories.prescription import PrescriptionFactory

pytestmark = pytest.mark.django_db
CALM = {
    "before_heart_rate_bpm": "68",
    "before_pressure": "126/74",
    "before_spo2_percent": "97",
    "before_weight_kg": "80",
    "before_asked": "none",
    "monitor": "no",
}
UNDER_LOAD = {
    "bout_heart_rate_bpm": "104",
    "bout_pressure": "146/78",
    "bout_rpe": "12",
    "bout_spo2_percent": "96",
    "bout_activity": "treadmill",
    "bout_load": "4.8 2",
    "during_asked": "none",
}
LEAVING = {
    "recovery_heart_rate_bpm": "76",
    "recovery_pressure": "122/72",
    "minutes": "35",
    "after_asked": "none",
}


@pytest.fixture
def planned(site, nurse):
    row = PlannedSessionFactory(enrolment__patient__site=site, slot__site=site)
    EntryScreenFactory(
        patient=row.enrolment.patient,
        answers=dict.fromkeys(["E-08", "E-08b", "E-11", "E-12", "E-21"], False),
        found="nothing",
        decision="may_start",
    )
    return row


@pytest.fixture
def line(client, nurse, planned):
    """Press something in the line: what it came to, as the page says it."""
    client.force_login(nurse)

    def run(stage, step="save", htmx=True, **boxes):
        data = {"stage": stage, "step": step, "submission_key": str(uuid.uuid4()), "place": "1"}
        data |= {"glucose_unit": "mg/dL", "weight_unit": "kg"} | boxes
        headers = {"HX-Request": "true"} if htmx else {}
        url = reverse("attendance:line", args=[planned.pk])
        return client.post(url, data, headers=headers).content.decode()

    return run


def visit_of(planned):
    return Visit.objects.get(enrolment=planned.enrolment, on=planned.on)


def came(page):
    return " ".join(page.split('id="came"')[1].split(">", 1)[1].split("</p>")[0].split())


def begin(planned, line):
    line("checkin", "arrive", **CALM)
    page = line("exercise", "start")
    assert came(page) == "Started"
    return visit_of(planned)


def test_typing_into_a_line_checks_in_and_saves(planned, line):
    page = line("checkin", "arrive", **CALM)
    assert came(page) == "Checked in, saved"
    visit = visit_of(planned)
    reading = visit.readings.get()
    assert (visit.state, visit.has_ecg) == ("arrived", False)
    assert (reading.heart_rate_bpm, reading.pressure, reading.spo2_percent) == (68, "126/74", 97)
    everybodys = {q.id for q in ASKED_BEFORE if not q.only}
    assert {k for k, yes in visit.answers.items() if yes is False} >= everybodys
    assert "✓ No changes" in page
    assert 'data-now="Ready, ' in page


def test_an_empty_line_checks_in_and_says_nothing_else(planned, line):
    page = line("checkin", "arrive", monitor="sinus", was_monitor="sinus")  # as last time
    assert came(page) == "Checked in"
    visit = visit_of(planned)
    assert (visit.answers, visit.has_ecg, visit.readings.count()) == ({}, None, 0)


def test_a_line_fills_in_and_never_empties(planned, line):
    """Boxes a line does not show, or that stand empty, leave what is stored."""
    line("checkin", "arrive", before_heart_rate_bpm="68", before_asked="none")
    line("checkin", before_pressure="126/74", before_weight_kg="80")
    visit = visit_of(planned)
    reading = visit.readings.get()
    assert (reading.heart_rate_bpm, reading.pressure, reading.weight_kg) == (68, "126/74", 80)
    assert visit.answers["fell"] is False


@pytest.mark.parametrize(
    ("boxes", "words", "wrong"),
    [
        ({"before_heart_rate_bpm": "720"}, "outside 20 to 250", "before_heart_rate_bpm"),
        ({"before_pressure": "12874"}, "should be two numbers", "before_pressure"),
        ({"before_weight_kg": "eighty"}, "is not a number", "before_weight_kg"),
    ],
)
def test_what_is_refused_stands_in_its_box_again(planned, line, boxes, words, wrong):
    page = line("checkin", "arrive", **CALM | boxes)
    assert words in came(page)
    assert "data-refused" in page
    box = page.split(f'name="{wrong}"')[1].split(">")[0]
    assert 'aria-invalid="true"' in box
    assert f'value="{boxes[wrong]}"' in box
    visit = visit_of(planned)  # somebody came; nothing of the line is stored
    assert (visit.state, visit.readings.count(), visit.answers) == ("arrived", 0, {})
    page = line("checkin", **CALM)  # corrected
    assert came(page) == "Saved"
    assert visit.readings.count() == 1


def test_a_question_about_one_box_keeps_no_alert_back(planned, line):
    """The weight is asked about, and the pressure judged all the same."""
    BodyWeightFactory(patient=planned.enrolment.patient, kg=100.6)
    typed = CALM | {"before_pressure": "185/112", "before_weight_kg": "81"}
    said = came(line("checkin", "arrive", **typed))
    assert "Hold: Systolic 185 is above this program’s limit of 180" in said
    assert "Is that right?" in said
    assert visit_of(planned).readings.count() == 0


def test_an_unusual_value_is_asked_about_once(planned, line):
    page = line("checkin", "arrive", **CALM | {"before_heart_rate_bpm": "33"})
    assert "Is that right?" in came(page)
    token = page.split('name="confirmed" value="')[1].split('"')[0]
    assert token
    page = line("checkin", **CALM | {"before_heart_rate_bpm": "33"}, confirmed=token)
    assert came(page) == "Saved"


def test_start_names_what_is_missing_and_a_hold_bars_it(planned, line):
    PlannedSessionFactory(enrolment__patient__site=planned.slot.site, slot=planned.slot)
    boxes = {name: value for name, value in CALM.items() if name != "before_pressure"}
    line("checkin", "arrive", **boxes)
    page = line("exercise", "start")
    assert "Not taken yet: blood pressure" in came(page)
    assert f"/visits/{visit_of(planned).pk}/?without=start" in page
    line("checkin", before_pressure="190/112")
    page = line("exercise", "start")
    assert came(page) == "Saved. Answer the alert first."
    assert visit_of(planned).state == "arrived"
    assert "Systolic 190 is above" in page
    assert page.index(f'data-row="{planned.pk}"') < page.index('data-state="expected"')  # pinned


def test_exercise_runs_by_the_clock_and_is_measured_in_the_line(planned, line):
    PrescriptionFactory(
        enrolment=planned.enrolment, treadmill_kmh=4.5, treadmill_grade_percent=1, cycle_w=None
    )
    visit = begin(planned, line)
    bout = visit.bouts.get()
    assert (bout.activity, bout.speed_kmh, bout.grade_percent) == ("treadmill", 4.5, 1)
    assert (bout.began_at, bout.minutes) == (visit.started_at, None)
    assert came(line("exercise", **UNDER_LOAD)) == "Saved"
    bout.refresh_from_db()
    assert (bout.speed_kmh, bout.grade_percent) == (4.8, 2)
    assert (bout.heart_rate_bpm, bout.rpe, bout.angina, bout.dyspnoea) == (104, 12, 0, 0)
    assert bout.minutes is None
    visit.refresh_from_db()
    assert all(visit.answers[q.id] is False for q in SEEN_DURING)
    assert came(line("exercise", "next")) == "Next bout"
    first, second = visit.bouts.all()
    assert first.minutes == 1  # less than a minute ago, and never none
    assert (second.place, second.activity, second.heart_rate_bpm) == (2, "treadmill", None)
    page = line("finish", "finish", **LEAVING)
    assert came(page) == "Finished"
    visit.refresh_from_db()
    assert (visit.state, visit.minutes, visit.sessions_counted) == ("finished", 35, 1)
    assert all(visit.answers[q.id] is False for q in ASKED_AFTER)


def test_minutes_of_a_running_bout_are_those_of_the_clock(planned, line):
    PrescriptionFactory(enrolment=planned.enrolment)
    visit = begin(planned, line)
    line("exercise", **UNDER_LOAD)
    ago = timezone.now() - timedelta(minutes=31)
    Visit.objects.filter(pk=visit.pk).update(arrived_at=ago, started_at=ago)
    Bout.objects.filter(visit=visit).update(began_at=ago)
    page = line("finish", "save", recovery_heart_rate_bpm="80")
    assert 'name="minutes" value="31"' in page
    rest = {name: v for name, v in LEAVING.items() if name != "recovery_heart_rate_bpm"}
    assert came(line("finish", "finish", **rest)) == "Finished"
    assert visit.bouts.get().minutes == 31


def test_more_than_is_prescribed_is_told_in_the_line(planned, line):
    rates = {"resting_bpm": 76, "low_bpm": 96, "high_bpm": 106}  # H-03: rest +20 to +30
    PrescriptionFactory(enrolment=planned.enrolment, method="rest", **rates)
    begin(planned, line)
    page = line("exercise", **UNDER_LOAD)  # 104 /min and RPE 12: inside
    assert "above 106" not in page
    page = line("exercise", bout_heart_rate_bpm="118", bout_rpe="16", was_bout_heart_rate_bpm="104",
                was_bout_rpe="12")  # fmt: skip
    assert "HR 118 above 106" in page
    assert "RPE 16 above 13" in page


def test_a_refused_finish_leaves_the_bout_running(planned, line):
    visit = begin(planned, line)
    line("exercise", **UNDER_LOAD)
    ago = timezone.now() - timedelta(minutes=12)
    Bout.objects.filter(visit=visit).update(began_at=ago)
    barred = LEAVING | {"recovery_pressure": "190/112", "recovery_heart_rate_bpm": "140"}
    FindingFactory(visit=visit, level=4, rule_id="F-14", about="wants_to_stop")
    page = line("finish", "finish", **barred)
    assert "Answer the alert first" in came(page)
    visit.refresh_from_db()
    assert visit.state == "exercising"
    assert visit.bouts.get().minutes is None  # and the clock of the line goes on
    assert visit.readings.get(phase="recovery").pressure == "190/112"


def test_a_value_typed_over_somebody_elses_is_judged_and_stays(planned, line):
    """Pressure above 180 or 110: the hold of what was typed is told, and it stays in its box."""
    line("checkin", "arrive", before_heart_rate_bpm="68")
    ReadingFactory(visit=visit_of(planned), heart_rate_bpm=68)  # 126/74, by somebody else
    page = line("checkin", before_pressure="190/112", before_spo2_percent="96")
    told = came(page)
    assert "you typed 190/112" in told
    assert "Hold: Systolic 190" in told
    assert re.search(r'name="before_pressure"\s+value="190/112"', page)
    assert not visit_of(planned).readings.filter(systolic_mmhg=190).exists()


def test_how_many_minutes_make_a_session_stands_where_they_are_typed(client, nurse, planned, line):
    """HCPro, APCs Insider, 10 December 2010, of CMS ch. 32: 31 minutes or more."""
    visit = begin(planned, line)
    client.force_login(nurse)
    page = client.get(reverse("attendance:today") + "?stage=finish").content.decode()
    assert re.search(r">\s*Minutes<span class=\"second\">31 or more</span>", page)
    sheet = client.get(reverse("attendance:sheet", args=[visit.pk])).content.decode()
    assert re.search(r'<input[^>]*name="minutes"[^>]*placeholder="31\+"', sheet)


def test_finish_asks_for_minutes_and_a_refused_load_is_named(planned, line):
    begin(planned, line)
    page = line("exercise", **UNDER_LOAD | {"bout_load": "45 W"})
    assert "is no load of this kind" in came(page)
    line("exercise", **UNDER_LOAD)
    page = line("finish", "finish", **LEAVING | {"minutes": ""})
    assert "How many minutes" in came(page)
    assert visit_of(planned).state == "exercising"


def test_what_somebody_else_stored_meanwhile_is_not_overwritten(planned, line, people):
    """Two desks: different boxes both count; the same box is asked about."""
    line("checkin", "arrive", before_heart_rate_bpm="68")
    page = line("checkin", before_heart_rate_bpm="86", before_pressure="126/74")
    assert "somebody else stored" in came(page)
    assert visit_of(planned).readings.get().heart_rate_bpm == 68
    begin(planned, lambda stage, step="save", **boxes: line(stage, step, **{
        k: v for k, v in boxes.items() if k != "before_heart_rate_bpm"}))  # fmt: skip
    line("exercise", **UNDER_LOAD)
    page = line("exercise", bout_heart_rate_bpm="110", was_bout_heart_rate_bpm="98")
    assert "somebody else stored" in came(page)
    page = line("exercise", bout_heart_rate_bpm="110", was_bout_heart_rate_bpm="104")
    assert came(page) == "Saved"


def test_units_are_those_the_line_was_shown_in(planned, line, nurse):
    """80 kg are 176.4 lb (1 lb = 0.45359237 kg, international yard and pound agreement, 1959)."""
    ConditionFactory(patient=planned.enrolment.patient, kind="diabetes")
    line("checkin", "arrive", before_weight_kg="176.4", before_glucose_mgdl="6.1",
         weight_unit="lb", glucose_unit="mmol/L")  # fmt: skip
    reading = visit_of(planned).readings.get()
    assert reading.weight_kg == pytest.approx(80, abs=0.02)
    assert reading.glucose_mgdl == pytest.approx(110, abs=0.5)  # 18.016 mg/dL a mmol/L
    line("checkin", before_heart_rate_bpm="68")  # shown in the other units: nothing changes
    again = visit_of(planned).readings.get()
    assert (again.weight_kg, again.glucose_mgdl) == (reading.weight_kg, reading.glucose_mgdl)


def test_the_same_press_counts_once(planned, line, client, nurse):
    line("checkin", "arrive", before_heart_rate_bpm="68")
    key = str(uuid.uuid4())
    for _ in range(2):
        page = line("checkin", before_pressure="126/74", submission_key=key)
        assert came(page) == "Saved"
    assert visit_of(planned).readings.get().history.count() == 2


@pytest.mark.parametrize(
    "sent", [{"stage": "lunch"}, {"step": "jump"}, {"place": "9"}, {"place": "12"}, {"place": ""}]
)
def test_nonsense_saves_nothing(planned, line, sent):
    page = line(**({"stage": "checkin", "step": "arrive"} | CALM | sent))
    assert "Nothing was saved" in came(page)
    assert not Visit.objects.exists()


def test_without_scripts_the_class_comes_back(planned, line, client):
    line("checkin", "arrive", htmx=False, **CALM)
    page = client.get(reverse("attendance:today")).content.decode()
    assert "Checked in, saved" in page
    page = line("checkin", htmx=False, before_glucose_mgdl="720")
    assert "<html" in page


# --- stop ---------------------------------------------------------------------------------------


def test_stop_happens_whatever_is_typed_and_can_be_taken_back(planned, line, client, nurse):
    visit = begin(planned, line)
    url = reverse("attendance:stop", args=[visit.pk])
    junk = {"bout_heart_rate_bpm": "x", "seen_version": "0", "stage": "exercise"}
    page = client.post(url, junk, headers={"HX-Request": "true"}).content.decode()
    assert "stopped" in came(page)
    visit.refresh_from_db()
    assert visit.state == "stopped"
    assert Interruption.objects.get(visit=visit).kind == "stop"
    assert "/stop/undo/" in page
    undo = reverse("attendance:undo-stop", args=[visit.pk])
    page = client.post(undo, {"stage": "exercise"}, headers={"HX-Request": "true"}).content.decode()
    assert "taken back" in came(page)
    visit.refresh_from_db()
    assert (visit.state, visit.ended_at) == ("exercising", None)
    assert Interruption.objects.get(visit=visit).is_taken_back


def test_a_stop_taken_back_lets_the_bout_run_on(planned, line, nurse):
    PrescriptionFactory(enrolment=planned.enrolment, treadmill_kmh=4.5)
    visit = begin(planned, line)
    stop_now(visit, key=None, by=nurse)
    assert visit.bouts.get().minutes == 1
    undo_stop(visit, by=nurse)
    assert visit.bouts.get().minutes is None


def test_nothing_typed_for_exercise_is_dropped_without_a_word(planned, line):
    """The line still shows boxes of exercise; meanwhile the person is held."""
    line("checkin", "arrive", **CALM)
    line("checkin", "hold")
    page = line("exercise", **UNDER_LOAD)
    assert came(page) == "Not saved: this person is held."
    assert not visit_of(planned).bouts.exists()


def test_another_machine_keeps_nothing_of_the_one_before(planned, line):
    PrescriptionFactory(enrolment=planned.enrolment)
    visit = begin(planned, line)
    line("exercise", **UNDER_LOAD)
    Bout.objects.filter(visit=visit).update(speed_kmh=4.834567)
    same = {"was_bout_activity": "treadmill", "was_bout_load": "4.83457 km/h 2 %"}
    line("exercise", bout_activity="treadmill", bout_load="4.83457 km/h 2 %", **same)
    assert visit.bouts.get().speed_kmh == 4.834567  # shown rounded, and not touched
    page = line("exercise", bout_activity="cycle", bout_load="4.83457 km/h 2 %", **same)
    assert "is no load of this kind" in came(page)
    line("exercise", bout_activity="cycle", bout_load="45", **same)
    bout = visit.bouts.get()
    assert (bout.activity, bout.power_w, bout.speed_kmh) == ("cycle", 45, None)


def test_each_bout_is_asked_about(planned, line):
    PrescriptionFactory(enrolment=planned.enrolment)
    visit = begin(planned, line)
    page = line("exercise", **UNDER_LOAD)
    assert "✓ No signs" in page
    page = line("exercise", "next")
    assert "✓ No signs" not in page
    line("exercise", place="2", bout_heart_rate_bpm="101", during_asked="none")
    second = visit.bouts.get(place=2)
    assert (second.heart_rate_bpm, second.angina, second.dyspnoea) == (101, 0, 0)


def test_a_rhythm_chosen_by_hand_counts_as_typed(planned, line):
    line("checkin", "arrive", monitor="sinus")
    visit = visit_of(planned)
    assert (visit.has_ecg, visit.rhythm.before) == (True, "sinus")


def test_a_stop_taken_back_leaves_its_alert_open(planned, line, nurse):
    visit = begin(planned, line)
    high = UNDER_LOAD | {"bout_pressure": "256/90"}
    token = line("exercise", **high).split('name="confirmed" value="')[1].split('"')[0]
    assert came(line("exercise", **high, confirmed=token)) == "Saved"
    visit.refresh_from_db()
    stop_now(visit, key=None, by=nurse)
    assert not [f for f in visit.findings.all() if f.is_open]
    undo_stop(visit, by=nurse)
    (standing,) = [f for f in visit.findings.filter(cleared_at=None) if f.bars_start]
    assert standing.is_open
    assert "Systolic 256" in standing.sentence


def test_a_stop_is_taken_back_within_a_minute_only(planned, line, client, nurse):
    visit = begin(planned, line)
    stop_now(visit, key=None, by=nurse)
    Visit.objects.filter(pk=visit.pk).update(
        arrived_at=timezone.now() - timedelta(hours=1),
        started_at=timezone.now() - timedelta(minutes=40),
        ended_at=timezone.now() - timedelta(seconds=61),
    )
    undo = reverse("attendance:undo-stop", args=[visit.pk])
    page = client.post(undo, {"stage": "exercise"}, headers={"HX-Request": "true"}).content.decode()
    assert "within a minute" in came(page)
    assert "/stop/undo/" not in page
    visit.refresh_from_db()
    assert visit.state == "stopped"


# --- nothing is lost on the way through the sheet's form ----------------------------------------


def test_the_sheet_nobody_touched_is_stored_as_it_was(planned, nurse):
    """Every value there is, the zeros too, survives the way through the form and back."""
    arrive(planned, by=nurse)
    visit = visit_of(planned)
    Visit.objects.filter(pk=visit.pk).update(
        state="exercising", started_at=timezone.now(), has_ecg=True, minutes=0, note="tired",
        answers={q.id: False for q in (*ASKED_BEFORE, *SEEN_DURING)} | {"dizzy": True},
        symptoms="light-headed", left_early="bus",
    )  # fmt: skip
    for phase in ["before", "after", "recovery"]:
        only = {"before": {"weight_kg": 80.04}, "recovery": {"angina": 0}}.get(phase, {"rpe": 12})
        ReadingFactory(visit=visit, phase=phase, glucose_mgdl=111.3, **{"weight_kg": None, **only})
    BoutFactory(visit=visit, grade_percent=0, angina=0, dyspnoea=0, minutes=0)
    RhythmFactory(visit=visit, before="sinus", pvc_per_minute=0, st_mm=0, st_change="none")
    visit, _ = with_detail(Visit.objects.get(pk=visit.pk))
    about = About(groups=known_of(visit).groups, units=Units(weight=LB, glucose=MMOL_L))

    def form(data=None):
        return SheetForm(
            data, initial=initial_of(visit, about.groups), version=visit.version,
            with_exercise=True, plan=[], about=about,
        )  # fmt: skip

    bound = form(as_sent(form()))
    assert bound.is_valid() or list(bound.errors) == ["__all__"]  # unusual is asked, not changed
    was, sent = stored_sheet(visit), bound.sheet()
    for part in ["before", "after", "recovery"]:
        assert getattr(sent, part) == getattr(was, part)
    assert isinstance(sent.before, Vitals)
    assert sent.bouts[0] == was.bouts[0]
    assert isinstance(sent.rhythm, Rhythm)
    assert sent.rhythm == was.rhythm
    assert (sent.minutes, sent.symptoms, sent.left_early) == (0, "light-headed", "bus")
    kept = {k: v for k, v in was.answers.items() if k in sent.answers}
    assert sent.answers == kept


def test_last_time_fills_in_what_is_to_be_confirmed(planned, line, client):
    """The monitor and its rhythm, and the machine of the last session, stand in their boxes."""
    earlier = VisitFactory(
        enrolment=planned.enrolment, finished=True, has_ecg=True,
        meeting__slot=ClassSlotFactory(site=planned.slot.site),
        meeting__on=planned.on - timedelta(days=2),
    )  # fmt: skip
    RhythmFactory(visit=earlier, before="paced")
    BoutFactory(visit=earlier, activity="cycle", power_w=45, speed_kmh=None, grade_percent=None)
    today = reverse("attendance:today")
    page = client.get(f"{today}?stage=checkin").content.decode()
    assert 'value="paced"\n          selected' in page or 'value="paced" selected' in page
    assert "leg cycle" in client.get(f"{today}?stage=exercise").content.decode()
    line("checkin", "arrive", **CALM | {"monitor": "paced"})
    visit = visit_of(planned)
    assert (visit.has_ecg, visit.rhythm.before) == (True, "paced")
    line("exercise", "start")
    assert visit.bouts.get().power_w == 45


@pytest.mark.parametrize("state", ["expected", "arrived", "exercising", "finished", "stopped"])
@pytest.mark.parametrize("stage", ["checkin", "exercise", "finish"])
def test_enter_never_presses_hold_or_stop(planned, line, client, state, stage):
    """Enter presses the first button of a form in the page's order, wherever it stands."""
    if state != "expected":
        came, left = timezone.now() - timedelta(minutes=40), timezone.now()
        has_ended = state in {"finished", "stopped"}
        visit = VisitFactory(
            enrolment=planned.enrolment,
            meeting=planned.slot.meetings.get(),
            state=state,
            arrived_at=came,
            started_at=None if state == "arrived" else came,
            ended_at=left if has_ended else None,
            minutes=40 if has_ended else None,
        )
        ReadingFactory(visit=visit, systolic_mmhg=190, diastolic_mmhg=112)
        FindingFactory(visit=visit)
    page = client.get(reverse("attendance:today") + f"?stage={stage}").content.decode()
    buttons = re.findall(r'<button[^>]*name="step"[^>]*>|<button[^>]*formaction[^>]*>', page)
    if re.search(r"<(input|select)[^>]*form=.line-", page):
        assert re.search(r'value="(arrive|save|start|finish)"', buttons[0])
    else:
        assert state != "expected" or stage != "checkin"  # nothing to type in: no Enter
    if state != "expected":
        address = reverse("attendance:sheet", args=[visit.pk])
        has_boxes = "?correct=after" if state == "finished" else ""
        sheet = client.get(address + has_boxes).content.decode()
        first = re.search(r'<button[^>]*name="step"[^>]*>', sheet)
        assert 'value="save"' in first[0]


def test_every_state_and_machine_has_its_place_in_the_table():
    over = {state for state in Visit.State.values if stage_of(state) is None}
    assert over == {*Visit.ENDED, "absent"}
    assert set(SET_TO) == set(Bout.Activity.values)


def test_closing_leads_to_whoever_is_not_finished(planned, line, client):
    visit = begin(planned, line)
    page = client.get(reverse("attendance:close-class", args=[planned.slot_id])).content.decode()
    assert f"{visit.enrolment.patient} is exercising" in page
    link = reverse("attendance:sheet", args=[visit.pk])
    assert re.search(rf'href="{link}">\s*Finish\s*<', page)
    line("exercise", **UNDER_LOAD)
    line("finish", "finish", **LEAVING)
    page = client.get(reverse("attendance:close-class", args=[planned.slot_id])).content.decode()
    assert "Not finished yet" not in page


def test_a_question_of_a_group_alone_left_open_is_no_no_changes(planned, line):
    line("checkin", "arrive", **CALM)
    visit = visit_of(planned)
    visit.answers.pop("shock", None)
    Visit.objects.filter(pk=visit.pk).update(answers=visit.answers)
    DeviceFactory(patient=planned.enrolment.patient, kind="icd")
    page = line("checkin", "arrive")
    assert "✓ No changes" not in page
    assert 'data-now="Ready' not in page
    assert "✓ No changes" in line("checkin", before_asked="none")


def test_closing_lists_who_was_stopped_and_not_measured(client, planned, line):
    visit = begin(planned, line)
    Visit.objects.filter(pk=visit.pk).update(state="stopped", ended_at=visit.started_at)
    address = reverse("attendance:close-class", args=[planned.slot_id])
    page = client.get(address).content.decode()
    assert "Stopped, no vitals in recovery" in page
    assert f"/visits/{visit.pk}/?correct=after" in page
    ReadingFactory(visit=visit, phase="recovery", heart_rate_bpm=88)
    assert "no vitals in recovery" not in client.get(address).content.decode()
