"""When the treatment plan must be signed.

A physician establishes, reviews and signs the plan every 30 days: 42 CFR 410.49(b)(2)(v). The
30 days are calendar days from the last signature. That the first plan is signed before or on the
first session's day is from memory.
"""

from datetime import date, timedelta

SIGN_EVERY_DAYS = 30


def next_signature_due(last_signed_on: date | None, starts_on: date) -> date:
    """The last day on which a signature is in time."""
    if last_signed_on is None:
        return starts_on
    return last_signed_on + timedelta(days=SIGN_EVERY_DAYS)


def is_late(due_on: date, today: date) -> bool:
    """The due day itself, day 30, is still in time."""
    return today > due_on


def due_dates(starts_on: date, ends_on: date) -> list[date]:
    """Planned signature days of a course: its start and every 30 days while it lasts."""
    days, day = [], starts_on
    while day <= ends_on:
        days.append(day)
        day += timedelta(days=SIGN_EVERY_DAYS)
    return days
