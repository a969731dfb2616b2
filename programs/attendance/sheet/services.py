"""A sheet saved with its step: stored, judged, moved on unless a finding bars it."""

import uuid
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.history import save_as
from patients.submissions import claim
from programs.attendance.calc.rules import in_words
from programs.attendance.calc.sheet import Sheet
from programs.attendance.findings.interruptions import interrupt
from programs.attendance.findings.services import judge_again, record_answer
from programs.attendance.models import Finding, Visit
from programs.attendance.sheet.storing import store_sheet
from programs.attendance.visit.counting import recount
from programs.attendance.visit.locking import lock_visit
from programs.staff.models import User

State = Visit.State


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
    judged = judge_again(row, is_over=step == "finish", by=by)
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
