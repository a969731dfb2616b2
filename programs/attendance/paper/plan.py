"""The plan of the day of one class, as it goes on paper."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, time
from typing import Any, NamedTuple

from django.db.models import FilteredRelation, Q

from patients.calc.words import Word
from programs.attendance.calc.asking import asked_beside
from programs.attendance.calc.catalogue import BY_KEY
from programs.attendance.models import ClassMeeting, PersonLimit, Visit
from programs.attendance.paper.known import groups_of, last_hba1c, records_of
from programs.attendance.today.facts import Change, changes_on, hour_of, planned_in, visits_in
from programs.attendance.today.lines import alerts_of
from programs.attendance.today.roster import RosterRow, roster_of
from programs.attendance.today.seats import say_make_ups, seats_on
from programs.enrolment.calc import record as told
from programs.enrolment.calc.record import Record
from programs.enrolment.models import ClassSlot, Closure, Enrolment
from programs.prescription.calc.intensity import heart_rate_words, rpe_words


class Target(NamedTuple):
    """What to train at, as far as paper shows it."""

    low_bpm: int | None
    high_bpm: int | None
    rpe_low: int
    rpe_high: int
    minutes: int
    upper_limit_bpm: int | None

    @property
    def heart_rate_words(self) -> str:
        return heart_rate_words(self.low_bpm, self.high_bpm)

    @property
    def rpe_words(self) -> str:
        return rpe_words(self.rpe_low, self.rpe_high)


@dataclass(frozen=True)
class Line:
    """One person of the class: what to train at, what to watch, what to ask."""

    patient_id: int
    name: str
    age: int
    session: str
    dose: Target | None
    watch: tuple[Word, ...]
    limits: tuple[str, ...]  # tighter than the site's, in words
    asks: tuple[str, ...]  # beside what everybody is asked
    make_up: str = ""  # which missed session this one stands for
    absent: str = ""  # in words, once it is known that they do not come


@dataclass(frozen=True)
class Staffed:
    """Who opened the class is written; before that nobody is named."""

    staff: list[str]
    supervisor: str


@dataclass(frozen=True)
class Plan:
    """A class on a day."""

    slot: ClassSlot
    on: date
    starts_at: time
    change: Change | None
    closure: Closure | None
    staffed: Staffed | None
    lines: list[Line] = field(default_factory=list)
    n_over: int = 0  # people beyond its seats


def plan_of(slot: ClassSlot, on: date) -> Plan:
    """Who is expected, with what the roster shows beside the dose. Constant in their number."""
    site = slot.site
    here = planned_in(site.pk, on, slot.pk)
    change = changes_on(site.pk, on).get(slot.pk)
    starts_at = hour_of(slot, change)
    closure = None if here else Closure.objects.in_force().filter(site=site, on=on).first()
    rows = roster_of(site, slot, starts_at, here, visits_in(site.pk, on, slot.pk), on)
    sitting = [(row.planned, row.state) for row in rows]
    n_over = say_make_ups(rows, sitting, slot, on, seats_on(slot, change))
    lines = _lines(slot, on, rows)
    return Plan(slot, on, starts_at, change, closure, _staffed(slot, on), lines, n_over)


def _staffed(slot: ClassSlot, on: date) -> Staffed | None:
    """One row for each of the staff, the supervisor in each."""
    whose = [f"{who}__{name}" for who in ("supervisor", "staff") for name in NAMES]
    opened = ClassMeeting.objects.filter(slot=slot, on=on, opened_at__isnull=False)
    rows = list(opened.order_by("staff__last_name", "staff").values_list(*whose))
    if not rows:
        return None
    return Staffed([name for row in rows if (name := _name(row[3:]))], _name(rows[0][:3]))


NAMES = ["first_name", "last_name", "username"]


def _name(parts: Iterable[str | None]) -> str:
    first, last, username = parts
    return f"{first or ''} {last or ''}".strip() or username or ""


def _lines(slot: ClassSlot, on: date, rows: list[RosterRow]) -> list[Line]:
    if not rows:
        return []
    people = {row.planned.patient_id for row in rows}
    courses = _courses({row.planned.enrolment_id for row in rows}, on)
    hba1c = {row.planned.patient_id: courses[row.planned.enrolment_id][1] for row in rows}
    records, own = records_of(hba1c, slot.site.now().tzinfo), _limits_of(people)
    return [
        Line(
            patient_id=p.patient_id,
            name=p.name,
            age=row.age,
            session=f"{row.session_number} of {p.sessions_planned}, week {row.week}",
            make_up=row.make_up_words,
            dose=courses[p.enrolment_id][0],
            watch=tuple(alerts_of(row)),
            limits=tuple(own[p.patient_id]),
            asks=_asks(records[p.patient_id], on),
            absent=row.state_words if row.state == Visit.State.ABSENT else "",
        )
        for row in rows
        for p in [row.planned]
    ]


def _courses(courses: set[int], on: date) -> dict[int, tuple[Target | None, float | None]]:
    """What to train at, and the person's last HbA1c [%], by course. One query."""
    dosed: Any = Enrolment.objects.filter(pk__in=courses).order_by()
    in_force = Q(prescriptions__is_waiting=False, prescriptions__valid_from__lte=on) & (
        Q(prescriptions__replaced_on=None) | Q(prescriptions__replaced_on__gt=on)
    )
    rows = dosed.annotate(
        dose=FilteredRelation("prescriptions", condition=in_force),
        hba1c=last_hba1c("patient"),
    ).values_list("pk", "hba1c", "dose", *[f"dose__{name}" for name in Target._fields])
    return {pk: (Target(*dose) if key else None, hba1c) for pk, hba1c, key, *dose in rows}


def _limits_of(people: Iterable[int]) -> dict[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    for row in PersonLimit.objects.in_force().filter(patient__in=people):
        rule = BY_KEY[row.rule_key]
        what = rule.bounds
        name, unit = (what.name, f" {what.unit}") if what else (rule.id, "")
        found[row.patient_id].append(
            f"{rule.level.word.capitalize()}: {name} {rule.compare} {row.limit:g}{unit}"
        )
    return found


def _asks(record: Record, on: date) -> tuple[str, ...]:
    """As the sheet will ask: the same facts of the same record decide."""
    has_screen = told.in_force(record.screen, record, on) is not None
    return asked_beside(groups_of(record, on), has_screen=has_screen)
