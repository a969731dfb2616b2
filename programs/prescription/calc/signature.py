"""When the treatment plan must be signed.

A physician establishes, reviews and signs the plan every 30 days: 42 CFR 410.49(b)(2)(v). The
30 days are calendar days from the last signature. That the first plan is signed before or on the
first session's day is from memory.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from enum import StrEnum

SIGN_EVERY_DAYS = 30


def next_signature_due(last_signed_on: date | None, starts_on: date) -> date:
    """The last day on which the next signature is in time.

    Parameters
    ----------
    last_signed_on : day of the latest signature; None before the first.
    starts_on : day of the first session.

    Returns
    -------
    Day 30 after the latest signature, else the day of the first session.
    """
    if last_signed_on is None:
        return starts_on
    return last_signed_on + timedelta(days=SIGN_EVERY_DAYS)


def is_late(due_on: date, today: date) -> bool:
    """Whether a signature is overdue; the due day itself is still in time.

    Parameters
    ----------
    due_on : last day in time.
    today : the day that is asked about.

    Returns
    -------
    True from the day after the due day.
    """
    return today > due_on


def due_dates(starts_on: date, ends_on: date) -> list[date]:
    """Planned signature days of a course: its start and every 30 days while it lasts.

    Parameters
    ----------
    starts_on : day of the first session.
    ends_on : last day of the course, included.

    Returns
    -------
    Days in order; empty when the course ends before it starts.
    """
    days, day = [], starts_on
    while day <= ends_on:
        days.append(day)
        day += timedelta(days=SIGN_EVERY_DAYS)
    return days


class Clock(StrEnum):
    """How the thirty days of a plan stand."""

    IN_TIME = "in time"
    LATE = "overdue"
    PAUSED = "paused"


def clock_on(due_on: date, today: date, pauses: Sequence[tuple[date, date | None]] = ()) -> Clock:
    """Whether a signature is overdue on a day, in a course with pauses.

    The thirty days run on through a pause: nothing in the rule stops them. While somebody is away
    no session is given, so a day that passes then is not called late; the plan must be signed
    before the return. That reading is a project choice.

    Parameters
    ----------
    due_on : last day in time.
    today : the day that is asked about.
    pauses : first day away and day of the return, None while nobody knows; a day of return is no
        day of the pause.

    Returns
    -------
    PAUSED on a day of a pause when the due day is over, else LATE after the due day.
    """
    if not is_late(due_on, today):
        return Clock.IN_TIME
    away = any(from_on <= today and (back is None or today < back) for from_on, back in pauses)
    return Clock.PAUSED if away else Clock.LATE
