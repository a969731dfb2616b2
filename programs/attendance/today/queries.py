"""Today: a site's day, its classes and the roster of one."""

from dataclasses import dataclass, field
from datetime import date, time

from patients.unchanged import Kept
from programs.attendance.calc.stages import Stage
from programs.attendance.models import Visit
from programs.attendance.today.facts import (
    Change,
    Meeting,
    Planned,
    Visits,
    changes_on,
    hour_of,
    meetings_on,
    planned_in,
    planned_on,
    state_of,
    visits_in,
    visits_on,
)
from programs.attendance.today.readings import bouts_of, last_time_of, last_work_of
from programs.attendance.today.roster import RosterRow, roster_of
from programs.attendance.today.seats import say_make_ups, seat_words, seats_on
from programs.attendance.today.statements import CLASSES
from programs.enrolment.models import ClassSlot, Closure
from programs.staff.models import Site


@dataclass
class ClassLine:
    """One class of the day in the side list."""

    slot: ClassSlot
    change: Change | None = None  # cancelled, or otherwise different, on this day
    meeting: Meeting | None = None
    n_expected: int = 0
    n_in: int = 0
    n_finished: int = 0
    n_absent: int = 0

    @property
    def starts_at(self) -> time:
        """The hour on this day."""
        return hour_of(self.slot, self.change)

    @property
    def n_done(self) -> int:
        return self.n_finished + self.n_absent

    @property
    def is_over(self) -> bool:
        return self.n_expected > 0 and self.n_done == self.n_expected


@dataclass
class Day:
    site: Site
    on: date
    closure: Closure | None
    meeting: Meeting | None  # of the chosen class, once somebody came or it was opened
    classes: list[ClassLine]
    chosen: ClassSlot | None
    rows: list[RosterRow]
    seat_words: str = ""
    n_over: int = 0  # people beyond the seats, without those recorded absent
    offered: set[Stage] = field(default_factory=set)  # parts of the work whose last time is here

    @property
    def starts_at(self) -> time | None:
        """The hour of the chosen class on this day."""
        return next((line.starts_at for line in self.classes if line.slot == self.chosen), None)

    @property
    def n_expected(self) -> int:
        return sum(line.n_expected for line in self.classes)

    @property
    def n_in(self) -> int:
        return sum(line.n_in for line in self.classes)

    @property
    def n_finished(self) -> int:
        return sum(line.n_finished for line in self.classes)

    @property
    def n_absent(self) -> int:
        return sum(line.n_absent for line in self.classes)


_days: Kept[Day] = Kept(most=64)


def day_now(site: Site, on: date, slot_pk: int | None = None) -> Day:
    """The same day, worked out once in a minute while nothing is stored meanwhile.

    It stands on several screens that ask for it again and again. To be read, never changed.
    """
    minute = site.now().replace(second=0, microsecond=0)
    asked = (site.pk, on, slot_pk, minute, str(minute.tzinfo))
    return _days.of(asked, lambda: day_of(site, on, slot_pk))


def day_of(site: Site, on: date, slot_pk: int | None = None) -> Day:
    """A site's day: its classes and the roster of one. Constant in the number of people."""
    planned, visits = planned_on(site.pk, on), visits_on(site.pk, on)
    meetings = meetings_on(site.pk, on)
    classes = _classes(site, on, planned, visits, meetings)
    chosen = _choose(site, on, classes, slot_pk)
    closure = None if planned else Closure.objects.in_force().filter(site=site, on=on).first()
    if chosen is None:
        return Day(site, on, closure, None, classes, None, [])
    line = next(line for line in classes if line.slot == chosen)
    here = [p for p in planned if p.slot_id == chosen.pk]
    found = _class(site, chosen, line.change, here, visits, on)
    meeting = meetings.get(chosen.pk)
    return Day(
        site, on, closure, meeting, classes, chosen, found.rows, found.seat_words, found.n_over
    )


@dataclass(frozen=True)
class Beside:
    """The class beside an open sheet, as far as somebody has to be told of it there."""

    site: Site
    on: date
    chosen: ClassSlot
    starts_at: time  # on this day
    rows: list[RosterRow]  # of few


def beside_sheet(visit: Visit) -> Beside:
    """The class of a visit, with those who may have to be told beside its sheet."""
    site, slot, on = visit.enrolment.patient.site, visit.meeting.slot, visit.on
    planned, visits = planned_in(site.pk, on, slot.pk), visits_in(site.pk, on, slot.pk)
    change = changes_on(site.pk, on).get(slot.pk)
    found = _class(site, slot, change, planned, visits, on, visit.pk)
    return Beside(site, on, slot, hour_of(slot, change), found.rows)


@dataclass(frozen=True)
class _Class:
    rows: list[RosterRow]
    seat_words: str
    n_over: int


def _class(
    site: Site,
    slot: ClassSlot,
    change: Change | None,
    planned: list[Planned],
    visits: Visits,
    on: date,
    opened: int | None = None,
) -> _Class:
    """A class on a day; beside the sheet of an ``opened`` visit with the rows of few."""
    rows = roster_of(site, slot, hour_of(slot, change), planned, visits, on, opened)
    if any(row.visit for row in rows):
        courses = [row.planned.enrolment_id for row in rows]
        bouts = bouts_of(slot.pk, on, None if opened is None else courses)
        for row in rows:
            row.bouts = bouts.get(row.visit.pk, []) if row.visit else []
    seats = seats_on(slot, change)
    sitting = [(p, state_of(visits.get((p.enrolment_id, slot.pk)))) for p in planned]
    n_over = say_make_ups(rows, sitting, slot, on, seats)
    return _Class(rows, seat_words(sitting, seats), n_over)


def offer_last_time(day: Day, stage: Stage) -> None:
    """Bring what a part of the work offers in its boxes: the monitor, or the machine, last time."""
    if day.chosen is None or stage in day.offered:
        return
    slot, courses = day.chosen.pk, [row.planned.enrolment_id for row in day.rows]
    if stage is Stage.CHECK_IN:
        for row, last in zip(day.rows, map(last_time_of(slot, day.on).get, courses), strict=True):
            row.last_time = last
    if stage is Stage.EXERCISE:
        for row, at in zip(day.rows, map(last_work_of(slot, day.on).get, courses), strict=True):
            # A dose written since then tells the machine, not what was set before it.
            is_older = bool(at and row.dose and at[0] < row.dose.valid_from)
            row.last_work = at[1] if at and not is_older else None
    day.offered.add(stage)  # at last: whoever shares the day sees all of it or asks as well


def _classes(
    site: Site,
    on: date,
    planned: list[Planned],
    visits: Visits,
    meetings: dict[int, Meeting],
) -> list[ClassLine]:
    changes = changes_on(site.pk, on)
    slots = {p.slot_id for p in planned}
    lines = {
        slot.pk: ClassLine(slot, changes.get(slot.pk), meetings.get(slot.pk))
        for slot in CLASSES(site=site.pk, weekdays=[on.weekday()], slots=slots)
    }
    for p in planned:
        line, visit = lines[p.slot_id], visits.get((p.enrolment_id, p.slot_id))
        state = visit.state if visit else Visit.State.EXPECTED
        line.n_expected += 1
        line.n_absent += state == Visit.State.ABSENT
        line.n_finished += state in Visit.ENDED
        line.n_in += state in {Visit.State.ARRIVED, Visit.State.EXERCISING}
    return sorted(lines.values(), key=lambda line: line.starts_at)


def _choose(site: Site, on: date, classes: list[ClassLine], pk: int | None) -> ClassSlot | None:
    """The class asked for; else the one with work left that is on now or next."""
    for line in classes:
        if line.slot.pk == pk:
            return line.slot
    now = site.now()
    for line in classes:
        ends = line.starts_at.hour * 60 + line.starts_at.minute + line.slot.minutes
        if (
            line.n_expected
            and not line.is_over
            and (on != now.date() or ends > now.hour * 60 + now.minute)
        ):
            return line.slot
    with_people = [line.slot for line in classes if line.n_expected]
    slots = with_people or [line.slot for line in classes]
    return slots[-1] if slots else None
