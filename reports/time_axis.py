"""The one time axis of a journey, in units of the picture."""

from datetime import date

LEFT, COLUMN = 120.0, 62.0  # where week one begins, and how wide a week is


def x_of(day: date, starts_on: date) -> float:
    """Where a day lies."""
    return LEFT + (day - starts_on).days / 7 * COLUMN
