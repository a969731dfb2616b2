"""Treating a low glucose: carbohydrate given, and the recheck."""

import uuid

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.claims import claim
from patients.history import save_as
from programs.attendance.calc.low_glucose import needs_new_ketones
from programs.attendance.calc.quantities import Glucose
from programs.attendance.findings.services import judge_again
from programs.attendance.models import Carbohydrate, Reading, Visit
from programs.attendance.visit.locking import lock_visit
from programs.attendance.visit.queries import stored_sheet
from programs.staff.models import User

State = Visit.State
CARED_FOR = {State.ARRIVED, State.EXERCISING, *Visit.ENDED}


@transaction.atomic
def give_carbohydrate(
    visit: Visit, grams: int, what: str = "", *, key: uuid.UUID | None = None, by: User
) -> Carbohydrate:
    """Note fast carbohydrate given now; the recheck is due fifteen minutes later.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    """
    claim(key, by=by)
    row = Carbohydrate(visit=visit, grams=grams, what=what, given_at=timezone.now())
    save_as(row, by=by, reason="carbohydrate given")
    return row


@transaction.atomic
def recheck(
    visit: Visit,
    glucose: Glucose | None,
    *,
    needed_help: bool | None = None,
    key: uuid.UUID | None = None,
    by: User,
) -> Reading | None:
    """Store a glucose recheck beside the earlier values and judge the visit again.

    A low that needed help is recorded without a value as well: help comes before the meter.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValidationError : the person is not here, or the visit is of another day; or neither a value
        nor help is given.
    """
    claim(key, by=by)
    if glucose is None and not needed_help:
        raise ValidationError("A recheck is a value of the meter, or that somebody had to help.")
    row = lock_visit(visit)
    if row.state not in CARED_FOR or row.on != row.enrolment.patient.site.today():
        raise ValidationError("A recheck is noted on the day, for somebody who is here.")
    earlier = stored_sheet(row).latest_glucose
    fresh = None
    if glucose is not None:
        fresh = Reading(
            visit=row,
            phase=_phase_of(row),
            taken_at=timezone.now(),
            glucose_mgdl=float(glucose),
            glucose_is_mmoll=glucose.is_mmoll,
        )
        save_as(fresh, by=by, reason="glucose recheck")
    if needed_help or (needed_help is False and "needed_help" not in row.answers):
        row.answers = row.answers | {"needed_help": needed_help}  # a yes stays: it happened
    if needs_new_ketones(row.ketones, earlier, glucose):
        row.ketones = ""
    judge_again(row, by=by)
    save_as(row, by=by, reason="glucose recheck")  # a sheet open elsewhere is told
    return fresh


def _phase_of(visit: Visit) -> str:
    if visit.started_at is None:
        return Reading.Phase.BEFORE
    return Reading.Phase.DURING if visit.state == State.EXERCISING else Reading.Phase.RECOVERY
