"""Which assessment is due when, and how it stands.

Formal reassessment in week six and at exit is common practice; a progress check every two weeks
is required by one state (North Carolina 10A NCAC 14F .1802); a site may check weekly. Windows are
common practice, no source. Pauses push later dates back by their length.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

WEEK = 7
INFORMAL_EVERY_DAYS = 14
INFORMAL_CHOICES = (WEEK, INFORMAL_EVERY_DAYS)
SIX_WEEKS_DAYS = 42
KIND_NAMES = {
    "baseline": "Baseline assessment",
    "informal": "Progress check",
    "six_weeks": "Six-week reassessment",
    "exit": "Exit assessment",
}
# Days before and after the due day in which an assessment counts as on time.
WINDOWS = {"baseline": (14, 7), "informal": (4, 4), "six_weeks": (7, 7), "exit": (7, 14)}
# After leaving, exit results are sought this long (common practice, no source). [days]
SOUGHT_DAYS = 30


class Standing(StrEnum):
    """How one assessment of a course stands on a day; the words that pages show."""

    DONE = "done"
    DONE_EARLY = "done early"
    DONE_LATE = "done late"
    EXCUSED = "not obtained"  # somebody said why
    LATER = "later"
    OPEN = "may be done now"
    DUE = "due"
    LATE = "late"
    MISSED = "missed"  # its time is over, and nobody said why


WAITING = {Standing.OPEN, Standing.DUE, Standing.LATE}
DONE = {Standing.DONE, Standing.DONE_EARLY, Standing.DONE_LATE}


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
    planned_on: date | None = None  # before pauses pushed it back; None where none can
    sought_until: date | None = None  # the exit of somebody who has left

    @property
    def name(self) -> str:
        """Name of the kind, as pages show it."""
        return KIND_NAMES[self.kind]

    @property
    def is_formal(self) -> bool:
        """True for every kind but an informal check."""
        return self.kind != "informal"

    @property
    def opens_on(self) -> date:
        """First day of the window."""
        return self.due_on - timedelta(days=WINDOWS[self.kind][0])

    @property
    def closes_on(self) -> date:
        """Last day of the window, or of seeking the exit of somebody who has left."""
        return self.sought_until or self.due_on + timedelta(days=WINDOWS[self.kind][1])

    def done_on(self, day: date, pauses: Sequence["Pausing"] = ()) -> Standing:
        """How an assessment performed on a day stands to its window, as the window was then.

        A pause that begins later moves nothing that was done before it.

        Parameters
        ----------
        day : when it was performed.
        pauses : all pauses of the course.

        Returns
        -------
        DONE, DONE_EARLY or DONE_LATE.
        """
        if self.planned_on is not None:
            begun = [pause for pause in pauses if pause.from_on <= day]
            as_it_was = replace(self, due_on=shifted(self.planned_on, begun, day), planned_on=None)
            return as_it_was.done_on(day)
        if day < self.opens_on:
            return Standing.DONE_EARLY
        return Standing.DONE if day <= self.closes_on else Standing.DONE_LATE

    def open_on(self, today: date) -> Standing:
        """How an assessment not yet performed stands, whatever the others do.

        Parameters
        ----------
        today : day it is seen from.

        Returns
        -------
        LATER, OPEN, DUE or LATE.
        """
        if today < self.opens_on:
            return Standing.LATER
        if today < self.due_on:
            return Standing.OPEN
        return Standing.DUE if today <= self.closes_on else Standing.LATE


Rhythm = Sequence[tuple[date, int]]


def shifted(day: date, pauses: Iterable[Pausing], today: date) -> date:
    """A planned day moved back by the pauses that began on or before it.

    Parameters
    ----------
    day : planned day.
    pauses : in any order; each moves the day before the next is looked at.
    today : end of a pause that lasts, unless it begins later.

    Returns
    -------
    The day, the same where no pause applies.
    """
    for pause in sorted(pauses, key=lambda p: p.from_on):
        if pause.from_on <= day:
            day += (pause.until_on or max(today, pause.from_on)) - pause.from_on
    return day


def milestones(
    starts_on: date,
    weeks: int,
    pauses: Sequence[Pausing],
    today: date,
    *,
    rhythm: Rhythm = (),
    left_on: date | None = None,
    seeks_exit: bool = True,
) -> list[Milestone]:
    """Every assessment of a course with its due day, in order.

    Parameters
    ----------
    starts_on : first day of the course.
    weeks : planned length. [weeks], not checked
    pauses : all pauses of the course.
    today : end of a pause that lasts.
    rhythm : from which day a site checks every 7 or every 14 days; before the first, every 14.
    left_on : the day the course was ended. What was not yet due then is left out, but the exit is
        sought from that day, since an early leaver's results count as much as a completer's.
    seeks_exit : false when nothing can be obtained any more.

    Returns
    -------
    Milestones by planned day; six weeks only in a longer course.

    Notes
    -----
    An informal check is numbered by its week, so that it keeps its number when a site changes
    how often it checks.
    """
    days = weeks * 7
    planned = [("baseline", 1, 0)]
    if days > SIX_WEEKS_DAYS:
        planned.append(("six_weeks", 1, SIX_WEEKS_DAYS))
    planned.append(("exit", 1, days - 1))
    fixed = {day for _, _, day in planned}
    planned += [
        ("informal", day // WEEK, day) for day in range(WEEK, days - 6, WEEK) if day not in fixed
    ]
    course = []
    for kind, number, day in sorted(planned, key=lambda p: p[2]):
        planned_on = starts_on + timedelta(days=day)
        due_on = shifted(planned_on, pauses, today)
        if kind != "informal" or day % every_on(rhythm, due_on) == 0:
            course.append(Milestone(kind, number, due_on, planned_on))
    return course if left_on is None else _until(course, left_on, seeks_exit)


def every_on(rhythm: Rhythm, day: date) -> int:
    """How often a site checks informally, as of a day.

    Parameters
    ----------
    rhythm : pairs of (since which day, every how many days), in any order. [days]
    day : the day asked about.

    Returns
    -------
    Interval. [days], 14 before the first pair
    """
    return next((every for since, every in sorted(rhythm, reverse=True) if since <= day), 14)


def _until(course: Sequence[Milestone], left_on: date, seeks_exit: bool) -> list[Milestone]:
    """What had come due when somebody left, and the exit, sought from then on."""
    reached = [m for m in course if m.kind != "exit" and m.due_on <= left_on]
    (last,) = (m for m in course if m.kind == "exit")
    until = left_on + timedelta(days=SOUGHT_DAYS)
    sought = Milestone("exit", 1, min(last.due_on, left_on), sought_until=until)
    return [*reached, sought] if seeks_exit else reached


Key = tuple[str, int]


def standings(
    course: Sequence[Milestone],
    performed: dict[Key, date],
    excused: Collection[Key],
    today: date,
    *,
    pauses: Sequence[Pausing] = (),
    booked: Mapping[Key, date] | None = None,
    has_left: bool = False,
) -> list[tuple[Milestone, Standing]]:
    """How every assessment of a course stands.

    Missed is: an informal check whose window has passed; a formal one once the next formal one may
    be done, since a baseline taken at week six would be none; an exit nobody could obtain in time;
    of a course that ended, all but the exit. What is booked for today or later is not missed.

    Parameters
    ----------
    course : every assessment in order, as ``milestones`` gives them.
    performed : day of each that was done, by (kind, number).
    excused : those not obtained for a stated reason, by (kind, number).
    today : day it is seen from.
    pauses : all pauses of the course.
    booked : day each is booked for, by (kind, number).
    has_left : the course was ended.

    Returns
    -------
    Each milestone with its standing, in the same order.
    """
    found = []
    for place, milestone in enumerate(course):
        key = (milestone.kind, milestone.number)
        if key in performed:
            standing = milestone.done_on(performed[key], pauses)
        elif key in excused:
            standing = Standing.EXCUSED
        else:
            standing = milestone.open_on(today)
            gone = has_left and not milestone.sought_until
            kept = (booked or {}).get(key, date.min) >= today
            if standing in WAITING and (gone or (not kept and _is_over(course, place, today))):
                standing = Standing.MISSED
        found.append((milestone, standing))
    return found


def _is_over(course: Sequence[Milestone], place: int, today: date) -> bool:
    milestone = course[place]
    if not milestone.is_formal or milestone.sought_until:
        return today > milestone.closes_on
    return any(m.is_formal and m.opens_on <= today for m in course[place + 1 :])


def next_due(standing: Iterable[tuple[Milestone, Standing]]) -> Milestone | None:
    """The first assessment still to do.

    Parameters
    ----------
    standing : milestones with their standings, in order.

    Returns
    -------
    The milestone, None when all are done, excused or missed.
    """
    return next((m for m, s in standing if s in WAITING or s is Standing.LATER), None)
