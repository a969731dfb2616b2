"""What the rows of Today are made of: small facts about a site's day and a class.

Today stands open on the floor all day, so each query is compiled once (``statements``) and
gives plain tuples; ``roster`` puts them together.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from typing import Any, NamedTuple

from assessments.calc.schedule import Course, Due, Record, due_next
from assessments.calc.timing import Pausing
from assessments.models import rhythm_of
from patients.models import Device, Precaution
from programs.attendance.calc.levels import Level
from programs.attendance.calc.questions import IN_HEART_FAILURE, WITH_ICD, WITH_INSULIN
from programs.attendance.models import Visit
from programs.attendance.today.statements import (
    ASSESSMENTS,
    BACKGROUND,
    CHANGES,
    MEETINGS,
    OWN_SUPERVISION,
    PAUSES,
    PLANNED,
    PLANNED_IN,
    PRECAUTIONS,
    RISKS,
    SCREENS,
    VISITS,
    VISITS_IN,
    Among,
)
from programs.enrolment.calc import record as told
from programs.enrolment.calc.risk import SUPERVISION, RiskClass
from programs.enrolment.models import ClassSlot, Enrolment
from programs.enrolment.risk.queries import record_from


class Planned(NamedTuple):
    """Somebody planned in a class of the day."""

    pk: int
    slot_id: int
    enrolment_id: int
    patient_id: int
    starts_on: date
    weeks: int
    closed_on: date | None
    outcome: str
    sessions_planned: int
    rhythm: list[list[Any]] | None  # how often the site checks, where it has a policy
    given_name: str
    family_name: str
    born_on: date
    sex: str
    makes_up_on: date | None  # the day of the missed session this one stands for

    @property
    def name(self) -> str:
        return f"{self.given_name} {self.family_name}".strip()


class Seen(NamedTuple):
    """A visit, as far as the roster shows it."""

    enrolment_id: int
    slot_id: int
    pk: int
    state: str
    absence: str
    arrived_at: datetime | None
    minutes: int | None
    counts_first: bool
    counts_second: bool
    left_early: str
    version: int
    started_at: datetime | None
    ended_at: datetime | None
    answers: dict[str, bool]
    has_ecg: bool | None

    @property
    def has_ended(self) -> bool:
        return self.state in Visit.ENDED


class Meeting(NamedTuple):
    """How a class of the day stands: opened, opened by exception, closed."""

    slot_id: int
    opened_at: datetime | None
    closed_at: datetime | None
    exception: str
    unmet: list[str]
    given_name: str | None
    family_name: str | None
    username: str | None

    @property
    def closed_by(self) -> str:
        return f"{self.given_name} {self.family_name}".strip() or self.username or ""


class Change(NamedTuple):
    """A class is cancelled on the day, at another hour, or with other seats."""

    slot_id: int
    is_cancelled: bool
    starts_at: time | None
    reason: str
    seats: int | None


def hour_of(slot: ClassSlot, change: Change | None) -> time:
    """The hour of a class on a day."""
    return (change and change.starts_at) or slot.starts_at


class Raised(NamedTuple):
    """A finding nobody has answered yet."""

    visit_id: int
    rule_id: str
    about: str
    level: int
    sentence: str
    source: str
    is_emergency: bool

    @property
    def bars(self) -> bool:
        """Nobody starts or finishes over it."""
        return self.level >= Level.HOLD


def state_of(visit: Seen | None) -> str:
    """The state of somebody planned in a class."""
    return visit.state if visit else Visit.State.EXPECTED


def planned_on(site: int, on: date) -> list[Planned]:
    """Everybody planned at a site on a day, by name."""
    return [Planned(*row) for row in PLANNED(site=site, on=on)]


def planned_in(site: int, on: date, slot: int) -> list[Planned]:
    """The same, of one class."""
    return [Planned(*row) for row in PLANNED_IN(site=site, on=on, slot=slot)]


Visits = dict[tuple[int, int], Seen]  # by course and class


def visits_on(site: int, on: date) -> Visits:
    """The visits of a site's day."""
    return {(row[0], row[1]): Seen(*row) for row in VISITS(site=site, on=on)}


def visits_in(site: int, on: date, slot: int) -> Visits:
    """The same, of one class."""
    return {(row[0], row[1]): Seen(*row) for row in VISITS_IN(site=site, on=on, slot=slot)}


def meetings_on(site: int, on: date) -> dict[int, Meeting]:
    """The classes of a day that somebody opened or came to, by class."""
    return {row[0]: Meeting(*row) for row in MEETINGS(site=site, on=on)}


def changes_on(site: int, on: date) -> dict[int, Change]:
    """The classes that are different on a day."""
    return {row[0]: Change(*row) for row in CHANGES(site=site, on=on)}


def ecg_until_of(site: int) -> dict[str, int]:
    """Up to which session ECG is suggested, by class of risk; a site may set it."""
    usual = {str(risk): SUPERVISION[risk].ecg[1] for risk in RiskClass}
    return usual | dict(OWN_SUPERVISION(site=site))


Pauses = dict[int, list[tuple[Pausing, str]]]  # with the reason, by course


def pauses_of(slot: int, on: date, among: Among = None) -> Pauses:
    """The pauses of each course of a class, in order."""
    found: Pauses = defaultdict(list)
    for course, from_on, until_on, reason in PAUSES(slot, on, among):
        found[course].append((Pausing(from_on, until_on), reason))
    return found


def due_of(
    planned: Iterable[Planned], pauses: Pauses, slot: int, on: date, among: Among = None
) -> dict[int, Due | None]:
    """What each course of a class asks for next, by course."""
    records: dict[int, list[Record]] = defaultdict(list)
    for course, *values in ASSESSMENTS(slot, on, among):
        records[course].append(Record(*values))
    found = {}
    for p in planned:
        course = Course(
            p.starts_on,
            p.weeks,
            tuple(pause for pause, _ in pauses.get(p.enrolment_id, ())),
            rhythm_of(p.rhythm or []),
            p.closed_on,
            seeks_exit=p.outcome != Enrolment.Outcome.DIED,
        )
        found[p.enrolment_id] = due_next(course, tuple(records[p.enrolment_id]), on)
    return found


@dataclass(frozen=True)
class Background:
    """What the record tells about one person of a class."""

    record: told.Record
    risk_class: str = ""
    precautions: tuple[str, ...] = ()

    def flags(self, on: date) -> list[str]:
        """Short words that matter on the floor."""
        found = []
        if told.insulin_or_secretagogue(self.record, on):
            found.append("insulin or secretagogue")
        if told.beta_blocker(self.record, on):
            found.append("beta-blocker")
        if told.heart_failure(self.record):
            found.append("heart failure")
        devices = told.in_place(self.record, on)
        found += [str(Device(kind=d.kind, detection_bpm=d.detection_bpm)) for d in devices]
        if not devices and told.defibrillator(self.record, on):
            found.append(Device.Kind.ICD.label)
        return [*found, *self.precautions]

    def groups(self, on: date) -> frozenset[str]:
        """Whom some questions are asked of alone, by the same record as the sheet."""
        found = {
            WITH_INSULIN: told.insulin_or_secretagogue(self.record, on),
            IN_HEART_FAILURE: told.heart_failure(self.record),
            WITH_ICD: told.defibrillator(self.record, on),
        }
        return frozenset(name for name, fact in found.items() if fact)

    def risk_since_event(self, on: date) -> str:
        """The class of risk; empty when none was decided since the last qualifying event."""
        return self.risk_class if told.in_force(self.record.risk, self.record, on) else ""

    def rate_read_since(self, prescribed_on: date, on: date) -> bool:
        """Whether a detection rate was read after a dose was prescribed."""
        read_on = told.detection_read_on(self.record, on)
        return read_on is not None and read_on > prescribed_on

    def needs_screen(self, on: date) -> bool:
        """Whether the entry screen on record was answered before the last qualifying event."""
        screen = self.record.screen
        return screen is not None and told.in_force(screen, self.record, on) is None


def backgrounds_of(
    people: Iterable[int], zone: tzinfo | None, slot: int, on: date, among: Among = None
) -> dict[int, Background]:
    """What the record tells about each person of a class."""
    rows: dict[int, list[Any]] = defaultdict(list)
    for patient, *row in BACKGROUND(slot, on, among):
        rows[patient].append(row)
    limits: dict[int, list[str]] = defaultdict(list)
    for patient, kind, instruction in PRECAUTIONS(slot, on, among):
        limits[patient].append(str(Precaution(kind=kind, instruction=instruction)))
    # Later ones take the place of earlier ones.
    risks = {p: (at.astimezone(zone).date(), answers, decided)
             for p, at, answers, decided in RISKS(slot, on, among)}  # fmt: skip
    screens = {p: (at.astimezone(zone).date(), answers, decision)
               for p, at, answers, decision in SCREENS(slot, on, among)}  # fmt: skip
    return {
        p: Background(
            record_from(rows[p], risks[p][:2] if p in risks else None, screens.get(p)),
            risks[p][2] if p in risks else "",
            tuple(limits[p]),
        )
        for p in people
    }
