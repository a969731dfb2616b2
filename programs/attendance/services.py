"""The floor's writes: arrive, absent, a sheet saved with its step. What is stored stands beside."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.history import save_as
from patients.submissions import claim
from programs.attendance.calc.rules import Evaluation, Rule, evaluate, in_words
from programs.attendance.calc.sheet import Background, Sheet, readings_of
from programs.attendance.locking import lock_visit
from programs.attendance.models import ClassMeeting, Finding, Visit
from programs.attendance.queries_visit import background_of, rules_for, stored_sheet
from programs.attendance.services_counting import recount
from programs.attendance.services_findings import keep_findings, record_answer
from programs.attendance.services_interruptions import interrupt
from programs.attendance.services_storing import store_sheet
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
def correct_arrival(visit: Visit, at: time, *, seen: int, by: User) -> Visit:
    """Set the hour somebody came to what it really was, on the wall clock of the site.

    Raises
    ------
    ValidationError : nobody came, or the hour is ahead, or after exercise began or ended.
    StaleVersion : somebody else saved the visit meanwhile.
    """
    row = lock_visit(visit)
    row.check_version(seen)
    zone = row.enrolment.patient.site.now().tzinfo
    came = datetime.combine(row.on, at, zone)
    if row.arrived_at is None:
        raise ValidationError("Nobody came to this visit.")
    if came > timezone.now():
        raise ValidationError("That hour has not come yet.")
    row.arrived_at = came
    save_as(row, by=by, reason="arrival corrected")
    return row


@transaction.atomic
def mark_absent(planned: PlannedSession, absence: str, *, by: User) -> Visit:
    """Record an absence with its reason; raises ValidationError once anything is recorded."""
    visit = _visit_for(planned)
    if visit.pk is not None and visit.state not in {State.EXPECTED, State.ARRIVED, State.ABSENT}:
        raise ValidationError(f"{visit.enrolment.patient} is already {visit.get_state_display()}.")
    if _has_entries(visit):
        raise ValidationError("Something is recorded; hold or finish the visit instead.")
    visit.state, visit.absence, visit.arrived_at = State.ABSENT, absence, None
    save_as(visit, by=by, reason="absent")
    return visit


@transaction.atomic
def undo_arrival(planned: PlannedSession, *, by: User) -> None:
    """Back to expected, as long as nothing was recorded."""
    visit = _visit_for(planned)
    if visit.pk is None:
        return
    if visit.state not in {State.ARRIVED, State.ABSENT} or _has_entries(visit):
        raise ValidationError("Something is recorded; this visit cannot be undone.")
    visit.state, visit.absence, visit.arrived_at = State.EXPECTED, "", None
    save_as(visit, by=by, reason="undone")


def _visit_for(planned: PlannedSession) -> Visit:
    """The visit of a planned session, locked, or a new one not yet stored."""
    # Whoever checks this person in holds the enrolment: two at once make one visit.
    enrolment = Enrolment.objects.select_for_update().get(pk=planned.enrolment_id)
    meeting, _ = ClassMeeting.objects.get_or_create(slot=planned.slot, on=planned.on)
    found = Visit.objects.select_for_update(of=("self",)).filter(
        enrolment=enrolment, meeting=meeting
    )
    return found.first() or Visit(enrolment=enrolment, meeting=meeting, on=planned.on)


def _has_entries(visit: Visit) -> bool:
    """Something was measured, asked, found or given: the person was here."""
    if visit.pk is None:
        return False
    kinds = [visit.readings, visit.findings, visit.carbohydrates, visit.bouts]
    return bool(visit.answers or visit.symptoms) or any(kind.exists() for kind in kinds)


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
    because: str = "",
) -> SheetResult:
    """Store what was typed, judge it, and take a step: save, start, finish, hold or stop.

    What was typed is always stored. A start or finish over an unanswered hold or stop is not
    made; the result names the findings. A value typed over another is a new reading beside it;
    with words in ``because`` it is a correction of a typing error.

    Raises
    ------
    AlreadyTaken : this very form was stored before.
    StaleVersion : somebody else saved the visit after this form was opened.
    ValidationError : a value or the step is refused; nothing is stored.
    """
    claim(key, by=by)
    row = lock_visit(visit)
    row.check_version(seen)
    if is_repeat and row.state != State.ARRIVED:
        raise ValidationError("A reading before exercise is repeated before exercise only.")
    store_sheet(row, sheet, because, is_repeat=is_repeat, by=by)
    judged = judge(row, stored_sheet(row), background_of(row), rules_for(row.enrolment.patient),
                   is_over=step == "finish")  # fmt: skip
    keep_findings(row, judged, by=by)
    barred = _take(row, step, by=by)
    missing = in_words(judged.missing)
    save_as(row, by=by, reason=_reason(step, because, missing))
    recount(row.enrolment, row.on, by=by)
    row.refresh_from_db()
    return SheetResult(row, barred, missing)


def _reason(step: str, because: str, missing: list[str]) -> str:
    """What the history says: a start keeps what was not checked by then."""
    unchecked = f"not checked: {'; '.join(missing)}" if step == "start" and missing else ""
    return "; ".join(part for part in (step, because, unchecked) if part)


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


STEPS = {
    "start": (State.EXERCISING, {State.ARRIVED}),
    "finish": (State.FINISHED, {State.EXERCISING}),
    "hold": (State.HELD, {State.ARRIVED}),
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
