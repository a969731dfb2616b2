"""Which assessment is due when.

Formal reassessment in week six and at exit is common practice; a progress check every two weeks
is required by one state (North Carolina 10A NCAC 14F .1802). Windows are common practice, no
source. Pauses push later dates back by their length.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

INFORMAL_EVERY_DAYS = 14
SIX_WEEKS_DAYS = 42
KIND_NAMES = {
    "baseline": "Baseline assessment",
    "informal": "Informal check",
    "six_weeks": "Six-week reassessment",
    "exit": "Exit assessment",
}
# Days before and after the due day in which an assessment counts as on time.
WINDOWS = {"baseline": (14, 7), "informal": (4, 4), "six_weeks": (7, 7), "exit": (7, 14)}


@dataclass(frozen=True)
class Pausing:
    """A pause; ``until_on`` is the first day back, or None while it lasts."""

    from_on: date
    until_on: date | None


@dataclass(frozen=True)
class Milestone:
    kind: str
    number: int
    due_on: date

    @property
    def name(self) -> str:
        return KIND_NAMES[self.kind]

    @property
    def opens_on(self) -> date:
        return self.due_on - timedelta(days=WINDOWS[self.kind][0])

    @property
    def closes_on(self) -> date:
        return self.due_on + timedelta(days=WINDOWS[self.kind][1])

    def state_on(self, today: date) -> str:
        """How an assessment not yet performed stands: later, open, due or late."""
        if today < self.opens_on:
            return "later"
        if today < self.due_on:
            return "open"
        return "due" if today <= self.closes_on else "late"


def shifted(day: date, pauses: Iterable[Pausing], today: date) -> date:
    """A planned day moved back by the pauses that began on or before it."""
    for pause in sorted(pauses, key=lambda p: p.from_on):
        if pause.from_on <= day:
            day += (pause.until_on or max(today, pause.from_on)) - pause.from_on
    return day


def milestones(
    starts_on: date, weeks: int, pauses: Sequence[Pausing], today: date
) -> list[Milestone]:
    """Every assessment of a course with its due day, in order."""
    days = weeks * 7
    planned = [("baseline", 1, 0)]
    if days > SIX_WEEKS_DAYS:
        planned.append(("six_weeks", 1, SIX_WEEKS_DAYS))
    planned.append(("exit", 1, days - 1))
    fixed = {day for _, _, day in planned}
    checks = [
        day for day in range(INFORMAL_EVERY_DAYS, days - 6, INFORMAL_EVERY_DAYS) if day not in fixed
    ]
    planned += [("informal", number, day) for number, day in enumerate(checks, start=1)]
    return [
        Milestone(kind, number, shifted(starts_on + timedelta(days=day), pauses, today))
        for kind, number, day in sorted(planned, key=lambda p: p[2])
    ]


def next_due(
    course: Sequence[Milestone], done: set[tuple[str, int]], today: date
) -> Milestone | None:
    """The first assessment still to do.

    An informal check whose window has passed is let go, and so is a formal assessment once the
    next formal one may be done: a baseline taken at week six would be none.
    """
    for place, milestone in enumerate(course):
        if (milestone.kind, milestone.number) in done:
            continue
        if milestone.kind == "informal" and today > milestone.closes_on:
            continue
        later = [m for m in course[place + 1 :] if m.kind != "informal"]
        if milestone.kind != "informal" and any(m.opens_on <= today for m in later):
            continue
        return milestone
    return None
