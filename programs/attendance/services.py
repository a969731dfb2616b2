"""The floor's writes: arrive, absent, readings, exercise. Findings and counting stand beside."""

import uuid
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.history import save_as
from patients.submissions import claim
from programs.attendance.calc.effort import cost_of
from programs.attendance.calc.rules import Evaluation, Rule, evaluate, in_words
from programs.attendance.calc.sheet import Background, Sheet, Vitals, merged_answers, readings_of
from programs.attendance.models import (
    Bout,
    ClassMeeting,
    Finding,
    Reading,
    RhythmFinding,
    Visit,
)
from programs.attendance.queries_visit import background_of, merged_vitals, rules_for
from programs.attendance.services_counting import recount
from programs.attendance.services_findings import keep_findings, record_answer
from programs.attendance.services_interruptions import interrupt
from programs.enrolment.models import Enrolment, PlannedSession
from programs.staff.models import User

State = Visit.State


@transaction.atomic
def arrive(planned: PlannedSession, *, by: User) -> Visit:
    """Check somebody in. A second click, or a second person's, changes nothing.

    Raises
    ------
    ValidationError : the session lies in the future.
    """
    if planned.on > planned.slot.site.today():
        raise ValidationError(
            f"{planned.enrolment.patient} is expected on {planned.on}, not today."
        )
    visit = _visit_for(planned)
    if visit.pk is None or visit.state in {State.EXPECTED, State.ABSENT}:
        visit.state, visit.absence = State.ARRIVED, ""
        visit.arrived_at = timezone.now()
        save_as(visit, by=by, reason="arrived")
    return visit


@transaction.atomic
def mark_absent(planned: PlannedSession, absence: str, *, by: User) -> Visit:
    """Record an absence with its reason; raises ValidationError once exercise has begun."""
    visit = _visit_for(planned)
    if visit.pk is not None and visit.state not in {State.EXPECTED, State.ARRIVED, State.ABSENT}:
        raise ValidationError(f"{visit.enrolment.patient} is already {visit.get_state_display()}.")
    if visit.pk is not None and visit.readings.exists():
        raise ValidationError("Readings are recorded; hold or finish the visit instead.")
    visit.state, visit.absence, visit.arrived_at = State.ABSENT, absence, None
    save_as(visit, by=by, reason="absent")
    return visit


@transaction.atomic
def undo_arrival(planned: PlannedSession, *, by: User) -> None:
    """Back to expected, as long as nothing was measured."""
    visit = _visit_for(planned)
    if visit.pk is None:
        return
    if visit.state not in {State.ARRIVED, State.ABSENT} or visit.readings.exists():
        raise ValidationError("Readings are recorded; this visit cannot be undone.")
    visit.state, visit.absence, visit.arrived_at = State.EXPECTED, "", None
    save_as(visit, by=by, reason="undone")


def _visit_for(planned: PlannedSession) -> Visit:
    """The visit of a planned session, locked, or a new one not yet stored."""
    # Whoever checks this person in holds the enrolment: two at once make one visit.
    enrolment = Enrolment.objects.select_for_update().get(pk=planned.enrolment_id)
    meeting, _ = ClassMeeting.objects.get_or_create(slot=planned.slot, on=planned.on)
    found = Visit.objects.filter(enrolment=enrolment, meeting=meeting).first()
    return found or Visit(enrolment=enrolment, meeting=meeting, on=planned.on)


@dataclass(frozen=True)
class SheetResult:
    visit: Visit
    barred_by: list[Finding]  # unanswered holds and stops that keep the wanted step from happening
    missing: list[str]  # what could not be checked


@transaction.atomic
def save_sheet(
    visit: Visit,
    sheet: Sheet,
    step: str,
    *,
    seen: int,
    key: uuid.UUID | None,
    by: User,
    is_repeat: bool = False,
) -> SheetResult:
    """Store what was typed, judge it, and take a step: save, start, finish, hold or stop.

    What was typed is always stored. A start or finish over an unanswered hold or stop is not
    made; the result names the findings.

    Raises
    ------
    AlreadyTaken : this very form was stored before.
    StaleVersion : somebody else saved the visit after this form was opened.
    ValidationError : a value or the step is refused; nothing is stored.
    """
    claim(key, by=by)
    row = (
        Visit.objects.select_for_update(of=("self",))
        .select_related("meeting__slot", "enrolment__patient__site", "enrolment__referral")
        .get(pk=visit.pk)
    )
    row.check_version(seen)
    if is_repeat and row.state != State.ARRIVED:
        raise ValidationError("A reading before exercise is repeated before exercise only.")
    _store_vitals(row, Reading.Phase.BEFORE, sheet.before, is_repeat, by=by)
    sheet = replace(sheet, answers=merged_answers(row.answers, sheet))
    for name in ["answers", "symptoms", "ketones", "last_meal_at", "last_dose_at", "has_ecg"]:
        setattr(row, name, getattr(sheet, name))
    _store_rhythm(row, sheet, by=by)
    background = background_of(row)
    if sheet.has_exercise_part:
        _store_vitals(row, Reading.Phase.AFTER, sheet.after, False, by=by)
        _store_vitals(row, Reading.Phase.RECOVERY, sheet.recovery, False, by=by)
        _store_bouts(row, sheet, background, by=by)
        row.minutes, row.note, row.left_early = sheet.minutes, sheet.note, sheet.left_early
    if is_repeat:  # what was not measured again is judged as it was
        earlier = latest_vitals(row, Reading.Phase.BEFORE)
        sheet = replace(sheet, before=earlier)
    rules = rules_for(row.enrolment.patient)
    judged = judge(row, sheet, background, rules, is_over=step == "finish")
    keep_findings(row, judged, by=by)
    barred = _take(row, step, by=by)
    save_as(row, by=by, reason=step)
    recount(row.enrolment, row.on, by=by)
    row.refresh_from_db()
    return SheetResult(row, barred, in_words(judged.missing))


def judge(
    visit: Visit,
    sheet: Sheet,
    background: Background,
    rules: Sequence[Rule],
    *,
    is_over: bool = False,
) -> Evaluation:
    """What the rules in force say about a sheet. Stores nothing."""
    ended = visit.state in {State.FINISHED, State.STOPPED}
    has_exercised = ended or visit.state == State.EXERCISING
    readings = readings_of(sheet, background, has_exercised=has_exercised, is_over=ended or is_over)
    return evaluate(rules, readings)


def _store_vitals(visit: Visit, phase: str, vitals: Vitals, is_repeat: bool, *, by: User) -> None:
    """A correction changes the latest reading, a repeat adds one; both stay in the history."""
    rows = list(visit.readings.filter(phase=phase))
    if not rows or is_repeat:
        if not vitals.is_empty:
            fresh = Reading(visit=visit, phase=phase, taken_at=timezone.now(), **asdict(vitals))
            save_as(fresh, by=by)
        return
    shown, typed = asdict(merged_vitals(rows)), asdict(vitals)
    changed: dict[int, Reading] = {}
    for name, value in typed.items():
        if value != shown[name]:
            holder = _holder(rows, name)
            setattr(holder, name, value)
            changed[holder.pk] = holder
    for reading in changed.values():
        save_as(reading, by=by)


# Values that go with another: the row that holds one holds both.
PAIRED = {
    "diastolic_mmhg": "systolic_mmhg",
    "standing_diastolic_mmhg": "standing_systolic_mmhg",
    "glucose_is_mmoll": "glucose_mgdl",
}


def _holder(rows: list[Reading], name: str) -> Reading:
    """The reading a shown value comes from: the last one that has it, else the last of all."""
    pair = PAIRED.get(name, name)
    having = [reading for reading in rows if getattr(reading, pair) is not None]
    return (having or rows)[-1]


def latest_vitals(visit: Visit, phase: str) -> Vitals:
    """The last known value of each vital sign of a phase, over all repeats."""
    return merged_vitals(list(visit.readings.filter(phase=phase)))


def _store_bouts(visit: Visit, sheet: Sheet, background: Background, *, by: User) -> None:
    weight = sheet.before.weight_kg or background.last_weight_kg
    stored = {bout.place: bout for bout in visit.bouts.all()}
    for place, entry in enumerate(sheet.bouts, start=1):
        bout = stored.get(place)
        if not entry.is_done:
            if bout is not None and not bout.is_withdrawn:
                bout.is_withdrawn = True
                save_as(bout, by=by, reason="withdrawn")
            continue
        bout = bout or Bout(visit=visit, place=place)
        cost = cost_of(entry, weight)
        new = asdict(entry) | {
            "mets": cost.mets if cost else None,
            "is_mets_in_range": cost.is_in_range if cost else True,
            "is_withdrawn": False,
        }
        if bout.pk is None or any(getattr(bout, name) != value for name, value in new.items()):
            for name, value in new.items():
                setattr(bout, name, value)
            save_as(bout, by=by)


def _store_rhythm(visit: Visit, sheet: Sheet, *, by: User) -> None:
    """A form that shows only what comes before exercise changes only that."""
    row = RhythmFinding.objects.filter(visit=visit).first()
    if row is None and sheet.rhythm.is_empty:
        return
    row = row or RhythmFinding(visit=visit)
    new: dict[str, Any] = asdict(sheet.rhythm)
    if not sheet.has_exercise_part:
        new = {name: new[name] for name in ["before", "qrs_before_ms"]}
    if row.pk is None or any(getattr(row, name) != value for name, value in new.items()):
        for name, value in new.items():
            setattr(row, name, value)
        save_as(row, by=by)


STEPS = {
    "start": (State.EXERCISING, {State.ARRIVED}),
    "finish": (State.FINISHED, {State.EXERCISING}),
    "hold": (State.HELD, {State.ARRIVED, State.EXERCISING}),
    "stop": (State.STOPPED, {State.EXERCISING}),
}


def _take(visit: Visit, step: str, *, by: User) -> list[Finding]:
    """Move the visit on, unless findings bar it; holding and stopping answer them."""
    if step == "save":
        return []
    target, allowed = STEPS[step]
    if visit.state not in allowed:
        raise ValidationError(f"This visit is {visit.get_state_display()}; that step is past.")
    open_ones = [f for f in visit.findings.all() if f.bars_start]
    if step in {"start", "finish"} and open_ones:
        return open_ones
    if step == "start" and not visit.meeting.is_open:
        raise ValidationError("This class is not open yet. Save, then open the class on Today.")
    if step in {"hold", "stop"}:
        for finding in open_ones:
            record_answer(finding, step, f"{target.label} by staff", "", by=by)
        interrupt(visit, step, seen=" ".join(f.sentence for f in open_ones), by=by)
    visit.state = target
    if target == State.EXERCISING:
        visit.started_at = visit.started_at or timezone.now()
    else:
        visit.ended_at = timezone.now()
    return []
