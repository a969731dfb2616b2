"""A sheet saved with its step: stored, judged, moved on unless a finding bars it."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.claims import claim
from patients.history import save_as
from programs.attendance.calc.rules import in_words
from programs.attendance.calc.sheet import Sheet
from programs.attendance.findings.interruptions import interrupt
from programs.attendance.findings.not_taken import Lacking, StillLacking, lacking_at, pass_by
from programs.attendance.findings.services import judge_again, record_answer
from programs.attendance.models import Finding, NotTaken, Visit
from programs.attendance.sheet.storing import store_sheet
from programs.attendance.visit.bouts import begin_first
from programs.attendance.visit.counting import recount
from programs.attendance.visit.locking import lock_visit
from programs.staff.models import User

State = Visit.State


@dataclass(frozen=True)
class SheetResult:
    visit: Visit
    barred_by: list[Finding]  # unanswered holds and stops that keep the wanted step from happening
    missing: list[str]  # what could not be checked
    lacking: list[Lacking] = field(default_factory=list)  # what the step needs a reason for


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
    not_taken: Mapping[str, str] | None = None,
    decided_by: str = "",
) -> SheetResult:
    """Store what was typed, judge it, and take a step: save, start, finish, hold or stop.

    What was typed is always stored. A start or finish over an unanswered hold or stop is not
    made; the result names the findings. Nor is one over a reading that a rule asked for, unless
    ``not_taken`` says why, and for some ``decided_by`` who decided (``findings.not_taken``). A
    value typed over another is a new reading beside it; with words in ``because`` it is a
    correction of a typing error.

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
    return _judge_and_step(row, step, because, not_taken or {}, decided_by, by=by)


@transaction.atomic
def go_on_without(
    visit: Visit,
    step: str,
    reasons: Mapping[str, str],
    decided_by: str = "",
    *,
    seen: int,
    key: uuid.UUID | None,
    by: User,
) -> SheetResult:
    """Start or finish a visit as it is stored, with the reasons for what was not taken.

    Raises
    ------
    AlreadyTaken : this very form was stored before.
    StaleVersion : somebody else saved the visit after this form was opened.
    StillLacking : something has no reason yet, or needs a clinician; nothing is stored.
    ValidationError : the step is past, or it is neither of the two.
    """
    claim(key, by=by)
    row = lock_visit(visit)
    row.check_version(seen)
    if step not in NotTaken.Step.values:
        raise ValidationError("Only a start or a finish goes on without a reading.")
    if step == NotTaken.Step.FINISH and row.minutes is None:
        raise ValidationError("How many minutes did the session last?")
    result = _judge_and_step(row, step, "", reasons, decided_by, by=by)
    if result.lacking:
        raise StillLacking(result.lacking)
    return result


def take_step(row: Visit, step: str, *, by: User) -> SheetResult:
    """A step of a locked visit as it is stored, with nothing typed."""
    return _judge_and_step(row, step, "", {}, "", by=by)


def _judge_and_step(
    row: Visit, step: str, because: str, reasons: Mapping[str, str], decided_by: str, *, by: User
) -> SheetResult:
    judged = judge_again(row, is_over=step == "finish", by=by)
    barred = bars_to(row, step)
    lacking: list[Lacking] = []
    if step in NotTaken.Step.values and not barred:
        wanted = lacking_at(row, judged.missing, step)
        lacking = pass_by(row, wanted, step, reasons, decided_by, by=by)
    if not barred and not lacking:
        _take(row, step, by=by)
    save_as(row, by=by, reason="; ".join(part for part in (step, because) if part))
    recount(row.enrolment, row.on, by=by)
    row.refresh_from_db()
    return SheetResult(row, barred, in_words(judged.missing), lacking)


STEPS = {
    "start": (State.EXERCISING, {State.ARRIVED}),
    "finish": (State.FINISHED, {State.EXERCISING}),
    "hold": (State.HELD, {State.ARRIVED}),
    "stop": (State.STOPPED, {State.EXERCISING}),
}


def bars_to(visit: Visit, step: str) -> list[Finding]:
    """Unanswered holds and stops over which nobody starts or finishes.

    Raises
    ------
    ValidationError : the step is past.
    """
    if step == "save":
        return []
    if visit.state not in STEPS[step][1]:
        raise ValidationError(f"This visit is {visit.get_state_display()}; that step is past.")
    if step == "start" and not visit.meeting.is_open:
        raise ValidationError("This class is not open yet. Save, then open the class on Today.")
    return [f for f in visit.findings.all() if f.bars_start] if step in NotTaken.Step.values else []


def _take(visit: Visit, step: str, *, by: User) -> None:
    """Move the visit on; holding and stopping answer its open findings."""
    if step == "save":
        return
    target, _ = STEPS[step]
    if step in {"hold", "stop"}:
        open_ones = [f for f in visit.findings.all() if f.bars_start]
        for finding in open_ones:
            record_answer(finding, step, f"{target.label} by staff", "", by=by)
        interrupt(visit, step, seen=" ".join(f.sentence for f in open_ones), by=by)
    visit.state = target
    if target == State.EXERCISING:
        visit.started_at = visit.started_at or timezone.now()
        begin_first(visit, by=by)
    else:
        visit.ended_at = timezone.now()
