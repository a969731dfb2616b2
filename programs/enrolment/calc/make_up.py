"""Which classes suit a make-up, and what is missing of a course.

Both are project choices within the limits that are cited.

References
----------
42 CFR 410.49(f): up to 36 one-hour sessions over up to 36 weeks, at most two a day.
"""

from collections.abc import Iterable, Sequence
from datetime import date, time
from typing import NamedTuple

from programs.enrolment.calc.calendar import COUNTED_A_DAY, overlaps


class Held(NamedTuple):
    """One class on one day: key, hour of that day, minutes, and the seats free for a make-up."""

    on: date
    key: int
    starts_at: time
    minutes: int
    free: int


class Own(NamedTuple):
    """A session the person has on a day; ``is_missed`` when they are recorded absent from it."""

    on: date
    key: int
    starts_at: time
    minutes: int
    is_missed: bool = False


class Away(NamedTuple):
    """A pause of the course: from a day to the day before they are back, or open."""

    from_on: date
    back_on: date | None

    def holds(self, day: date) -> bool:
        """Whether the pause covers a day.

        Parameters
        ----------
        day : any day.

        Returns
        -------
        True from its first day to the day before they are back.
        """
        return self.from_on <= day and (self.back_on is None or day < self.back_on)


def fitting(
    classes: Iterable[Held],
    own: Sequence[Own],
    pauses: Sequence[Away],
    *,
    first_on: date,
    last_on: date,
    most: int,
) -> list[Held]:
    """The next classes in which a missed session can be made up.

    Left out are classes without a free seat, days of a pause, days on which the person is
    recorded absent from anything, a third session on one day, and two classes at one hour.

    Parameters
    ----------
    classes : classes held, in any order.
    own : the person's sessions on the same days.
    pauses : of the course.
    first_on, last_on : days between which a make-up may lie, both included.
    most : how many to name. [classes], from 1

    Returns
    -------
    The first of them by day and hour, at most ``most``.
    """
    mine: dict[date, list[Own]] = {}
    for session in own:
        mine.setdefault(session.on, []).append(session)
    found = [
        held
        for held in classes
        if held.free > 0
        and first_on <= held.on <= last_on
        and not any(pause.holds(held.on) for pause in pauses)
        and _suits(held, mine.get(held.on, []))
    ]
    return sorted(found, key=lambda held: (held.on, held.starts_at, held.key))[:most]


def _suits(held: Held, own: Sequence[Own]) -> bool:
    if len(own) >= COUNTED_A_DAY or any(session.is_missed for session in own):
        return False
    return not any(
        overlaps(held.starts_at, held.minutes, session.starts_at, session.minutes)
        for session in own
    )


def missing_sessions(planned: int, counted: int, booked: int) -> int:
    """Sessions of a course that are neither done nor booked.

    Parameters
    ----------
    planned : sessions of the course. [sessions], 1 to 72
    counted : sessions that count so far. [sessions], from 0
    booked : sessions still ahead, without those already recorded as missed. [sessions], from 0

    Returns
    -------
    [sessions], 0 when the bookings suffice or exceed what is to go
    """
    return max(0, planned - counted - booked)
