"""A make-up: which session it stands for, and giving it up again."""

from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import transaction

from patients.calc.days import in_words
from patients.history import save_as
from programs.enrolment.calc.calendar import Sitting
from programs.enrolment.courses.services import locked
from programs.enrolment.models import Enrolment, PlannedSession
from programs.enrolment.seats import booking
from programs.staff.models import User

# States of a visit that has begun, in attendance's words; an undone arrival is "expected" again.
BEGUN = ["arrived", "exercising", "finished", "held", "stopped", "absent"]


def make_up_of(enrolment: Enrolment, missed: Sitting) -> PlannedSession | None:
    """What is booked in place of a missed session."""
    on, slot = missed
    return enrolment.planned.filter(makes_up_on=on, makes_up_slot=slot).first()


@transaction.atomic
def give_up_make_up(planned: PlannedSession, *, by: User) -> None:
    """Free the seat of a make-up that lies ahead.

    Raises
    ------
    ValidationError : it lies behind, somebody came to it or was noted absent, or it is no make-up.
    """
    row = locked(planned.enrolment)
    fresh = row.planned.filter(pk=planned.pk, makes_up_on__isnull=False).first()
    if fresh is None:
        raise ValidationError("This make-up was given up meanwhile.")
    if not is_ahead(row, fresh):
        raise ValidationError(f"The make-up on {in_words(fresh.on)} has begun; it stays.")
    give_up_sessions(row, [fresh], by=by, reason="make-up given up")


def is_ahead(row: Enrolment, planned: PlannedSession) -> bool:
    """A session of today or later to which nobody has come, and nobody was noted absent."""
    if planned.on < row.patient.site.today():
        return False
    # Visits belong to a room further right; only the database relation is followed.
    begun = Enrolment.objects.filter(
        pk=row.pk,
        visits__meeting__slot=planned.slot_id,
        visits__meeting__on=planned.on,
        visits__state__in=BEGUN,
    )
    return not begun.exists()


def give_up_sessions(
    row: Enrolment, sessions: Iterable[PlannedSession], *, by: User, reason: str
) -> None:
    """Give sessions of a locked course up; it then ends with the last that is left."""
    booking.give_up(sessions, by=by, reason=reason)
    days = row.planned.values_list("on", flat=True)
    row.planned_end_on = max(days, default=row.planned_end_on)
    save_as(row, by=by, reason=reason)
