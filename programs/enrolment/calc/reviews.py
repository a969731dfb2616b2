"""What is due next in a course on which day, as assessments last told it.

What is due changes with time alone: an informal check is let go when its window closes, a baseline
when six weeks may be done. So the class list is told the coming changes, not only the present.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import NamedTuple

FIRST_REVIEW = "Baseline assessment"
Stored = Sequence[Sequence[str]]  # rows of since, name, due day; days as 2026-03-02


class Review(NamedTuple):
    """From a day on, this is due next, and when; an empty name says that nothing is."""

    since: date
    name: str
    due_on: date


def as_stored(reviews: Iterable[Review]) -> list[list[str]]:
    """Reviews as a JSON column keeps them."""
    return [[f"{r.since}", r.name, f"{r.due_on}"] for r in reviews]


def review_on(stored: Stored, day: date) -> Review | None:
    """What is due next as of a day; None when nothing is."""
    now = f"{day}"  # days written so compare as text; a class list asks for forty people at once
    current = next(
        (row for row in reversed(stored) if row[0] <= now), stored[0] if stored else None
    )
    if current is None or not current[1]:
        return None
    since, name, due_on = current
    return Review(date.fromisoformat(since), name, date.fromisoformat(due_on))


def moved(stored: Stored, by: timedelta) -> list[list[str]]:
    """The same reviews when the start of a course that has not begun moves."""
    read = [(date.fromisoformat(s), name, date.fromisoformat(d)) for s, name, d in stored]
    return as_stored(Review(since + by, name, due_on + by) for since, name, due_on in read)
