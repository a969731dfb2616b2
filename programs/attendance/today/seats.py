"""The seats of a class on a day: make-ups, and who is absent or beyond them."""

from collections.abc import Sequence
from datetime import date

from patients.calc.days import short_weekday
from programs.attendance.models import Visit
from programs.attendance.today.facts import Change, Planned
from programs.attendance.today.roster import RosterRow
from programs.attendance.today.statements import MAKE_UPS
from programs.enrolment.models import ClassSlot


def seats_on(slot: ClassSlot, change: Change | None) -> int:
    """Seats of a class on a day."""
    return slot.seats if change is None or change.seats is None else change.seats


Sitting = Sequence[tuple[Planned, str]]  # everybody planned in a class, each with their state


def seat_words(sitting: Sitting, seats: int) -> str:
    """How many of the seats are taken, by whoever is not recorded absent."""
    n_absent = _n_absent(sitting)
    words = f"{len(sitting) - n_absent} of {seats} seats"
    return f"{words}, {n_absent} absent" if n_absent else words


def say_make_ups(
    rows: Sequence[RosterRow], sitting: Sitting, slot: ClassSlot, on: date, seats: int
) -> int:
    """Say in each row which session it makes up, or what makes it up; how many are over the seats.

    Of several make-ups nobody decides which one sits in the seat of somebody absent: it is said of
    the last that were booked. One query, if anybody is absent. The rows may be of a few.
    """
    n_absent = _n_absent(sitting)
    booked = dict(MAKE_UPS(slot=slot.pk, on=on)) if n_absent else {}
    for row in rows:
        stands_for, instead = row.planned.makes_up_on, booked.get(row.planned.enrolment_id)
        if row.state == Visit.State.ABSENT and instead is not None:
            row.make_up_words = f"make-up {short_weekday(instead, on)}"
        elif stands_for is not None:
            row.make_up_words = f"make-up for {short_weekday(stands_for, on)}"
    n_over = len(sitting) - seats
    make_ups = [
        p.pk for p, state in sitting if p.makes_up_on is not None and state != Visit.State.ABSENT
    ]
    instead_of = set(sorted(make_ups, reverse=True)[: max(0, min(n_over, n_absent))])
    for row in rows:
        if row.planned.pk in instead_of:
            row.flags.insert(0, "in the seat of somebody absent")
    return max(0, n_over - n_absent)


def _n_absent(sitting: Sitting) -> int:
    return sum(state == Visit.State.ABSENT for _, state in sitting)
