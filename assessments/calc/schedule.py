"""How the assessments of one course stand on a day, and which comes next.

Nothing of it is stored: what is due changes with time alone, so it is worked out on the day that
is asked about (project choice). Due days and windows: ``timing``.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

from assessments.calc.timing import (
    DONE,
    WAITING,
    Milestone,
    Pausing,
    Standing,
    milestones,
    next_due,
    standings,
)
from patients.calc.days import short_day, short_weekday
from patients.calc.words import Word, word


class Course(NamedTuple):
    """What the schedule must know of a course."""

    starts_on: date
    weeks: int
    pauses: tuple[Pausing, ...]
    rhythm: tuple[tuple[date, int], ...]  # how often the site checks informally, since when
    closed_on: date | None = None
    seeks_exit: bool = True

    @property
    def is_open(self) -> bool:
        """Nobody ended it."""
        return self.closed_on is None

    def is_paused(self, today: date) -> bool:
        """Whether a pause lasts.

        Parameters
        ----------
        today : the day asked about.

        Returns
        -------
        Whether one that began on or before the day has no first day back.
        """
        return any(p.until_on is None and p.from_on <= today for p in self.pauses)


class Record(NamedTuple):
    """What the schedule reads of an assessment's record; a stored row with these names will do."""

    kind: str
    number: int
    planned_on: date | None
    performed_on: date | None
    not_obtained_because: str


@dataclass(frozen=True)
class Line:
    """One assessment of a course: what it is, how it stands, and its record if there is one."""

    milestone: Milestone
    standing: Standing
    stored: Any  # the record or row; None where there is none
    today: date

    @property
    def is_waiting(self) -> bool:
        """May be done now, and is not."""
        return self.standing in WAITING

    @property
    def is_ahead(self) -> bool:
        """Still to do, now or later."""
        return self.is_waiting or self.standing is Standing.LATER

    @property
    def performed_on(self) -> date | None:
        """The day it was performed."""
        return self.stored.performed_on if self.stored is not None else None

    @property
    def booked_on(self) -> date | None:
        """The day booked for what was not performed yet."""
        if self.stored is None or self.stored.performed_on is not None:
            return None
        return self.stored.planned_on

    @property
    def is_booked(self) -> bool:
        """For today or later; a day gone by without a record is a booking not kept."""
        return self.booked_on is not None and self.booked_on >= self.today

    @property
    def words(self) -> list[Word]:
        """How it stands, in short words."""
        due, standing = self.milestone.due_on, self.standing
        on, on_weekday = short_day(due, self.today), short_weekday(due, self.today)
        if standing in DONE and self.performed_on is not None:
            found = [word("fine", f"{standing} {short_day(self.performed_on, self.today)}")]
        elif standing is Standing.EXCUSED:
            found = [Word("plain", "○", f"{standing}")]
        elif standing is Standing.MISSED:
            found = [word("hold", f"missed, {on}")]
        elif self.booked_on is not None and self.is_booked:
            found = [word("note", f"booked {short_weekday(self.booked_on, self.today)}")]
            found += [word("hold", "late")] if standing is Standing.LATE else []
        elif standing is Standing.LATE:
            found = [word("hold", f"late, {on}")]
        elif standing is Standing.DUE:
            found = [word("caution", f"due {on_weekday}")]
        elif standing is Standing.OPEN:
            found = [Word("plain", "◇", f"{standing}, due {on_weekday}")]
        else:
            found = [Word("plain", "◇", f"later, {on}")]
        if self.booked_on is not None and not self.is_booked:
            found.append(
                Word("plain", "○", f"booked {short_day(self.booked_on, self.today)}, not kept")
            )
        return found

    @cached_property
    def on(self) -> date:
        """The day to be there: the booked one, else the due one."""
        return self.booked_on if self.booked_on and self.is_booked else self.milestone.due_on


def milestones_of(course: Course, today: date) -> list[Milestone]:
    """Every assessment the course asks for, shifted by its pauses, as the site checks.

    Parameters
    ----------
    course : dates, pauses, and how often the site checks.
    today : a pause that lasts is counted up to this day.

    Returns
    -------
    Milestones in the order of their due days.
    """
    return milestones(
        course.starts_on,
        course.weeks,
        course.pauses,
        today,
        rhythm=course.rhythm,
        left_on=course.closed_on,
        seeks_exit=course.seeks_exit,
    )


def lines_on(course: Course, records: Iterable[Any], today: date) -> list[Line]:
    """How every assessment of a course stands on a day.

    Parameters
    ----------
    course : dates, pauses, and how often the site checks.
    records : what was booked, performed or explained; at most one of a kind and number.
    today : the day asked about.

    Returns
    -------
    Lines in the order of their due days, with what was performed or booked beside the plan:
    before somebody left, or while the site checked at other intervals.
    """
    stored = {(r.kind, r.number): r for r in records}
    found = standings(
        milestones_of(course, today),
        {key: r.performed_on for key, r in stored.items() if r.performed_on is not None},
        {key for key, r in stored.items() if r.not_obtained_because},
        today,
        pauses=course.pauses,
        booked={key: r.planned_on for key, r in stored.items() if r.planned_on is not None},
        has_left=not course.is_open,
    )
    lines = [
        Line(m, standing, stored.pop((m.kind, m.number), None), today) for m, standing in found
    ]
    for key, row in stored.items():
        if row.performed_on is not None:
            lines.append(Line(Milestone(*key, row.performed_on), Standing.DONE, row, today))
        elif row.planned_on is not None and row.planned_on >= today and course.is_open:
            lines.append(Line(Milestone(*key, row.planned_on), Standing.OPEN, row, today))
    return sorted(lines, key=lambda line: line.milestone.due_on)


def next_line(lines: Sequence[Line]) -> Line | None:
    """What comes next.

    Parameters
    ----------
    lines : of one course, in order.

    Returns
    -------
    The first line still to do; None when nothing is.
    """
    upcoming = next_due((line.milestone, line.standing) for line in lines)
    return next((line for line in lines if line.milestone is upcoming), None)


class Due(NamedTuple):
    """What comes next, and on which day to be there."""

    name: str
    on: date


# A class list asks for forty people every few seconds, and the answer changes once a day.
@lru_cache(maxsize=4096)
def due_next(course: Course, records: tuple[Record, ...], today: date) -> Due | None:
    """What a course asks for next, as of a day.

    Parameters
    ----------
    course : dates, pauses, and how often the site checks.
    records : what was booked, performed or explained.
    today : the day asked about.

    Returns
    -------
    Its name, and the booked day or else the due one; None when nothing is due any more.
    """
    if not course.is_open:
        return None
    line = next_line(lines_on(course, records, today))
    return Due(line.milestone.name, line.on) if line else None


# Due asks for every open course at each visit, and the answer changes once a day.
@lru_cache(maxsize=4096)
def asked_for(
    course: Course, records: tuple[Any, ...], today: date, ahead_days: int
) -> tuple[Line, ...]:
    """What of a course waits for somebody: what comes next, and what was missed without a word.

    Parameters
    ----------
    course : dates, pauses, and how often the site checks.
    records : what was booked, performed or explained.
    today : the day asked about.
    ahead_days : how far ahead what comes next is asked for. [days], 0 or more

    Returns
    -------
    Lines in the order of their due days. While a pause lasts, what is not overdue moves on with
    it, unless it is booked. Of a course that ended only what is sought after leaving is asked for.
    """
    until, is_first, is_paused = today + timedelta(days=ahead_days), True, course.is_paused(today)
    found = []
    for line in lines_on(course, records, today):
        if is_paused and line.milestone.due_on >= today and not line.is_booked:
            continue
        if line.standing is Standing.MISSED:
            if line.milestone.is_formal and (course.is_open or line.milestone.sought_until):
                found.append(line)
        elif line.is_ahead and is_first:
            is_first = False
            if line.on <= until or line.standing is Standing.OPEN:
                found.append(line)
    return tuple(found)
