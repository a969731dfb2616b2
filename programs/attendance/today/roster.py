"""The roster of one class: each person with what matters before they start."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, tzinfo
from typing import Any, NamedTuple, NotRequired, TypedDict

from assessments.calc.schedule import Due
from assessments.calc.timing import Pausing
from patients.calc.days import in_words, short_day
from patients.calc.person import Person
from programs.attendance.calc.counting import minutes_late
from programs.attendance.calc.questions import ASKED_BEFORE, applies_to
from programs.attendance.calc.sheet import Vitals
from programs.attendance.calc.workload import NAMES as WORKLOAD
from programs.attendance.models import Interruption, Visit
from programs.attendance.today.facts import (
    Background,
    Planned,
    Raised,
    Seen,
    backgrounds_of,
    due_of,
    ecg_until_of,
    pauses_of,
    state_of,
)
from programs.attendance.today.readings import (
    LastTime,
    Ran,
    Set,
    vitals_of,
)
from programs.attendance.today.statements import (
    CONCERNS,
    COUNTED,
    DOSES,
    FINDINGS,
    SIGNED,
    STOPS,
    Among,
)
from programs.attendance.today.warnings import warnings_of
from programs.enrolment.calc import record as told
from programs.enrolment.calc.calendar import (
    NEEDS_APPROVAL,
    beyond_course,
    last_course_day,
    week_of,
)
from programs.enrolment.models import ClassSlot
from programs.prescription.calc.basis import Basis, Written, read_basis, why_review
from programs.prescription.calc.intensity import heart_rate_words, rpe_words
from programs.prescription.calc.loads import planned_loads
from programs.prescription.calc.signature import next_signature_due
from programs.prescription.queries_known import basis_from
from programs.staff.models import Site

LATE_FROM_MINUTES = 10  # project choice
STATES = dict(Visit.State.choices)
ABSENCES = dict(Visit.Absence.choices)


class Here(TypedDict):
    """Which class on which day."""

    slot: int
    on: date
    among: NotRequired[list[int]]  # courses, where not everybody is asked about


@dataclass(frozen=True)
class Counted:
    """Counted sessions of a course before a day, and on it."""

    before: int = 0
    on_day: int = 0


class Target(NamedTuple):
    """What to train at, as far as a line shows it."""

    low_bpm: int | None
    high_bpm: int | None
    rpe_low: int
    rpe_high: int
    signed_at: datetime | None
    covered_by: int | None  # the signed prescription inside whose limits it lies
    prescribed_at: datetime
    valid_from: date
    treadmill_kmh: float | None
    treadmill_grade_percent: float | None
    cycle_w: float | None
    minutes: int
    loads: list[dict[str, Any]]

    @property
    def needs_signature(self) -> bool:
        """Neither signed nor inside signed limits."""
        return self.signed_at is None and self.covered_by is None

    @property
    def heart_rate(self) -> str:
        return heart_rate_words(self.low_bpm, self.high_bpm)

    @property
    def rpe(self) -> str:
        return rpe_words(self.rpe_low, self.rpe_high)

    @property
    def work(self) -> Set | None:
        """The machine it is prescribed for."""
        for load in planned_loads(self.loads, self.minutes):
            return Set(load["kind"], tuple(load.get(name) for name in WORKLOAD))
        if self.treadmill_kmh is not None:
            set_to = {
                "speed_kmh": self.treadmill_kmh,
                "grade_percent": self.treadmill_grade_percent,
            }
            return Set("treadmill", tuple(set_to.get(name) for name in WORKLOAD))
        if self.cycle_w is not None:
            set_to = {"power_w": self.cycle_w}
            return Set("cycle", tuple(set_to.get(name) for name in WORKLOAD))
        return None


@dataclass
class RosterRow:
    """One person in one class, with what matters before they start."""

    planned: Planned
    visit: Seen | None
    counted: Counted
    week: int
    age: int
    flags: list[str]
    warnings: list[str]
    dose: Target | None
    before: Vitals | None = None  # the last known values, over all repeats
    recovery: Vitals | None = None
    bouts: list[Ran] = field(default_factory=list)  # brought for a day, not for a plan
    last_time: LastTime | None = None  # these two are brought for the lines that offer them
    last_work: Set | None = None
    has_diabetes: bool = False
    groups: frozenset[str] = frozenset()  # of whom some questions are asked alone
    open_findings: list[Raised] = field(default_factory=list)
    earlier_stop: str = ""  # in words; its return is not confirmed
    paused: str = ""  # in words: since when and why, where the course is paused on the day
    has_concern: bool = False  # something that must not wait, such as PHQ-9 item 9
    late_minutes: int = 0  # after the hour of the class; below the grace nobody is late
    make_up_words: str = ""  # which missed session this one stands for, or what stands for it

    @property
    def session_number(self) -> int:
        """The session this visit is, or would be; never typed, always counted."""
        visit, before = self.visit, self.counted.before
        if visit is not None and visit.counts_first:
            return before + 1
        if visit is not None and visit.counts_second:
            return before + 2
        return before + self.counted.on_day + 1

    @property
    def key(self) -> str:
        """The planned session, as addresses and attributes hold it."""
        return str(self.planned.pk)

    @property
    def state(self) -> str:
        return state_of(self.visit)

    @property
    def is_asked(self) -> bool:
        """Every question before exercise that this person is asked was answered."""
        answers = self.visit.answers if self.visit else {}
        return all(q.id in answers for q in ASKED_BEFORE if applies_to(q, groups=self.groups))

    @property
    def is_ready(self) -> bool:
        """Measured, asked, ECG or none, with nothing to answer: who may start with one key."""
        before = self.before
        taken = before is not None and before.heart_rate_bpm is not None and before.pressure != ""
        is_open = any(one.bars for one in self.open_findings) or bool(
            self.earlier_stop or self.paused
        )
        is_watched = self.visit is not None and self.visit.has_ecg is not None
        is_here = self.state == Visit.State.ARRIVED
        return is_here and taken and self.is_asked and is_watched and not is_open

    @property
    def running(self) -> Ran | None:
        """The bout that runs by the clock."""
        if self.state != Visit.State.EXERCISING:
            return None
        open_ones = [ran for ran in self.bouts if ran.began_at and ran.minutes is None]
        return open_ones[-1] if open_ones else None

    @property
    def state_words(self) -> str:
        visit = self.visit
        if visit is None:
            return "Expected"
        if visit.state == Visit.State.ABSENT:
            return f"Absent: {ABSENCES[visit.absence]}"
        words = STATES[visit.state].capitalize()
        if visit.minutes and visit.has_ended:
            words += f", {visit.minutes} min"
        if self.late_minutes and not visit.has_ended:
            words += f", {self.late_minutes} min late"
        return f"{words}, left early" if visit.left_early else words

    @property
    def left_words(self) -> str:
        """How many sessions of the course are left, and until when; never a count below one."""
        done = self.counted.before + self.counted.on_day
        planned = self.planned.sessions_planned
        if done >= planned:
            return f"All {planned} sessions are used: {done} counted. Another {NEEDS_APPROVAL}."
        until = in_words(last_course_day(self.planned.starts_on))
        return f"{planned - done} of {planned} sessions left, to be used by {until} (36 weeks)."


def roster_of(
    site: Site,
    slot: ClassSlot,
    starts_at: time,
    planned: list[Planned],
    visits: Mapping[tuple[int, int], Seen],
    on: date,
    opened: int | None = None,
) -> list[RosterRow]:
    """The rows of a class on a day, or of whoever is told beside an opened visit’s sheet."""
    if not planned:
        return []
    here: Here = {"slot": slot.pk, "on": on}
    findings, concerns = _open_findings(here), {patient for (patient,) in CONCERNS(**here)}
    if opened is not None:
        planned = _beside(planned, visits, slot.pk, {opened, *findings}, concerns)
        here["among"] = [p.enrolment_id for p in planned]
    vitals, doses = vitals_of(**here), doses_of(**here)
    counted = {course: Counted(*n) for course, *n in COUNTED(**here)}
    signed: dict[int, date | None] = dict(SIGNED(**here))
    stops, pauses = _earlier_stops(here), pauses_of(**here)
    due = due_of(planned, pauses, **here)
    zone, ecg_until, rows = site.now().tzinfo, ecg_until_of(site.pk), []
    backgrounds = backgrounds_of({p.patient_id for p in planned}, zone, **here)
    for p in planned:
        visit, known = visits.get((p.enrolment_id, slot.pk)), backgrounds[p.patient_id]
        row = RosterRow(
            planned=p,
            visit=visit,
            counted=counted.get(p.enrolment_id, Counted()),
            week=week_of(on, p.starts_on),
            age=Person(born_on=p.born_on, sex=p.sex).age_on(on),
            flags=known.flags(on),
            warnings=_warnings(p, due, signed, doses, on),
            dose=doses[p.enrolment_id].target,
            before=vitals.get((visit.pk, "before")) if visit else None,
            recovery=vitals.get((visit.pk, "recovery")) if visit else None,
            groups=known.groups(on),
            has_diabetes=bool(told.diabetes(known.record, on)),
            open_findings=findings.get(visit.pk, []) if visit else [],
            earlier_stop=stops.get(p.patient_id, ""),
            paused=_paused(pauses.get(p.enrolment_id, []), on),
            has_concern=p.patient_id in concerns,
            late_minutes=_late(visit, slot, starts_at, on, zone),
        )
        _add_beyond(row, on)
        _add_dose(row, doses[p.enrolment_id], known, on, zone)
        _add_risk(row, known, on, ecg_until)
        rows.append(row)
    return rows


def _beside(
    planned: list[Planned],
    visits: Mapping[tuple[int, int], Seen],
    slot: int,
    told_of: set[int],
    concerns: set[int],
) -> list[Planned]:
    """Who exercises, whose sheet is open, and who has something to answer or a concern."""

    def is_told(visit: Seen | None) -> bool:
        return visit is not None and (visit.state == Visit.State.EXERCISING or visit.pk in told_of)

    return [
        p
        for p in planned
        if p.patient_id in concerns or is_told(visits.get((p.enrolment_id, slot)))
    ]


def _earlier_stops(here: Here) -> dict[int, str]:
    """Holds and stops that nobody settled yet, in words, by person."""
    return {
        patient: f"{Interruption.Kind(kind).label} {short_day(day, here['on'])}, "
        "return not confirmed"
        for patient, kind, day in STOPS(**here)
    }


def _paused(pauses: Iterable[tuple[Pausing, str]], on: date) -> str:
    """That the course is paused on a day; who is planned all the same came to be asked why."""
    for pause, reason in pauses:
        if pause.from_on <= on and (pause.until_on is None or on < pause.until_on):
            return f"Paused since {short_day(pause.from_on, on)}: {reason}"
    return ""


def _late(
    visit: Seen | None, slot: ClassSlot, starts_at: time, on: date, zone: tzinfo | None
) -> int:
    """Minutes after the hour of the class [min]; 0 within the grace, or when nobody came."""
    if visit is None or visit.arrived_at is None:
        return 0
    late = minutes_late(visit.arrived_at.astimezone(zone), on, starts_at, slot.minutes)
    return late if late >= LATE_FROM_MINUTES else 0


def _add_beyond(row: RosterRow, on: date) -> None:
    """A session beyond what the course holds comes first."""
    p = row.planned
    beyond = beyond_course(row.session_number, on, p.starts_on, p.sessions_planned)
    if beyond:
        row.warnings.insert(0, beyond)


def _open_findings(here: Here) -> dict[int, list[Raised]]:
    found: dict[int, list[Raised]] = {}
    for row in FINDINGS(**here):
        found.setdefault(row[0], []).append(Raised(*row))
    return found


@dataclass
class Dosed:
    """The dose of a course on a day, what it was written on, and whether another waits."""

    target: Target | None = None
    basis: Basis = field(default_factory=Basis)
    kg: float | None = None
    tested_on: date | None = None
    waits: bool = False

    def why_review(self, record: told.Record, on: date, zone: tzinfo | None) -> tuple[str, ...]:
        """What changed in the person since it was written."""
        if self.target is None:
            return ()
        written = Written(self.target.prescribed_at.astimezone(zone).date(), self.basis)
        return why_review(written, basis_from(record, on, self.kg, self.tested_on))


def doses_of(slot: int, on: date, among: Among = None) -> dict[int, Dosed]:
    """The doses of a class on a day, by course; empty where somebody has none."""
    found: dict[int, Dosed] = defaultdict(Dosed)
    for course, is_waiting, basis, kg, tested_on, *target in DOSES(slot, on, among):
        one = found[course]
        if is_waiting:
            one.waits = True
            continue
        one.target, one.basis = Target(*target), read_basis(basis)
        one.kg, one.tested_on = kg, tested_on
    return found


def _warnings(
    p: Planned,
    due: Mapping[int, Due | None],
    signed: Mapping[int, date | None],
    doses: Mapping[int, Dosed],
    on: date,
) -> list[str]:
    """What is due of a course: an assessment, a signature, a first dose."""
    next_signature = next_signature_due(signed.get(p.enrolment_id), p.starts_on)
    has_dose = doses[p.enrolment_id].target is not None
    return warnings_of(due[p.enrolment_id], next_signature, has_dose, on)


def _add_dose(
    row: RosterRow, dosed: Dosed, background: Background, on: date, zone: tzinfo | None
) -> None:
    """Whether the dose is signed, another waits, and what changed since it was prescribed."""
    if dosed.waits:
        row.warnings.append("changed dose awaits signature")
    if row.dose is None:
        return
    if row.dose.needs_signature:
        row.warnings.append("dose not signed")
    if background.rate_read_since(row.dose.prescribed_at.astimezone(zone).date(), on):
        row.warnings.append("detection rate read anew: review the dose")
    why = dosed.why_review(background.record, on, zone)
    if why:
        row.warnings.append(f"review the dose: {', '.join(why)}")


def _add_risk(
    row: RosterRow, background: Background, on: date, ecg_until: Mapping[str, int]
) -> None:
    """The class of risk, and whether ECG is still suggested at this session."""
    if background.needs_screen(on):
        row.warnings.append("entry screen is of before the last event: screen again")
    decided = background.risk_since_event(on)
    if not decided:
        row.warnings.append(
            "risk is of before the last event: stratify again"
            if background.risk_class
            else "risk not stratified"
        )
        return
    words, until = f"{decided} risk", ecg_until[decided]
    if row.session_number <= until:
        words += f", ECG suggested to session {until}"
    row.flags = [words, *row.flags]
