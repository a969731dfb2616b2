"""One session with every value entered, as it goes into the chart."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch, prefetch_related_objects

from patients.calc.measuring import STORED, Units
from patients.forms import as_typed
from programs.attendance.calc.counting import session_code
from programs.attendance.calc.quantities import Mass
from programs.attendance.calc.questions import (
    ASKED_AFTER,
    ASKED_BEFORE,
    BY_ID,
    SEEN_DURING,
    applies_to,
)
from programs.attendance.calc.workload import value_words
from programs.attendance.models import Bout, EventEntry, Reading, RhythmFinding, Visit
from programs.attendance.paper.known import groups_of, record_with_hba1c
from programs.attendance.visit.queries import MOMENTS
from programs.prescription.models import Prescription
from programs.staff.models import User

YES_NO = {True: "yes", False: "no"}
WORK = {
    "speed_kmh": "km/h",
    "grade_percent": "% grade",
    "power_w": "W",
    "steps_per_minute": "step cycles/min",
    "step_height_cm": "cm step",
    "sets": "sets",
    "repetitions": "repetitions",
    "load_kg": "kg",
    "in_reserve": "repetitions in reserve",
    "shown_mets": "METs shown by the machine",
}
# The columns of a visit beside its readings: what a blank one is called.
ASKED = (
    ("Before exercise", ASKED_BEFORE),
    ("Signs and symptoms in exercise", SEEN_DURING),
    ("In recovery", ASKED_AFTER),
)


@dataclass(frozen=True)
class Answered:
    """The questions of one part of the visit: what was answered yes, no, and not asked."""

    title: str
    yes: list[str]
    no: list[str]
    unasked: list[str]


@dataclass(frozen=True)
class Measured:
    """A reading as its row of the table; a dash was not measured."""

    reading: Reading
    cells: list[str]


@dataclass(frozen=True)
class Worked:
    """A bout as its row of the table; one entered in error stays, and says so."""

    bout: Bout
    work: str
    cells: list[str]


@dataclass
class SessionRecord:
    visit: Visit
    number: str
    code: str
    dose: Prescription | None
    readings: list[Measured]
    bouts: list[Worked]
    answered: list[Answered]
    rhythm: list[tuple[str, str]]
    events: list[Any]
    taught: list[Any]
    staff: list[str]  # who entered or corrected anything of the visit itself


def record_of(visit: Visit, units: Units = STORED) -> SessionRecord:
    """Everything that was entered about one visit, speed and load in the units of whoever reads.
    Constant in the number of rows."""
    entries = EventEntry.objects.filter(is_withdrawn=False).select_related("by")
    prefetch_related_objects(
        [visit],
        "readings",
        "bouts",
        "findings__by",
        "interruptions__by",
        "interruptions__settled_by",
        "carbohydrates",
        "not_taken__by",
    )
    events = visit.events.filter(is_withdrawn=False).select_related("reviewed_by")
    rhythm = getattr(visit, "rhythm", None)
    groups = _groups(visit)
    who = visit.history.exclude(history_user=None).order_by().values("history_user")
    return SessionRecord(
        visit=visit,
        number=_number(visit),
        code=session_code(visit.has_ecg) if visit.sessions_counted else "",
        dose=visit.dose,
        readings=[_measured(row) for row in _in_order(visit)],
        bouts=[_worked(row, units) for row in visit.bouts.all()],
        answered=[_answered(visit, groups, title, questions) for title, questions in ASKED],
        rhythm=_seen(rhythm) if rhythm else [],
        events=list(events.prefetch_related(Prefetch("entries", queryset=entries))),
        taught=list(visit.enrolment.teachings.filter(on=visit.on, is_withdrawn=False)),
        staff=[
            f"{one} ({one.title})" if one.title else f"{one}"
            for one in User.objects.filter(pk__in=who).order_by("last_name", "pk")
        ],
    )


def _number(visit: Visit) -> str:
    """Which sessions of the course this visit was; never typed, always counted."""
    of = visit.enrolment.sessions_planned
    if not visit.sessions_counted:
        return "does not count as a session"
    before = visit.enrolment.visits.filter(on__lt=visit.on).n_sessions()
    first = before + (1 if visit.counts_first else 2)
    if visit.sessions_counted == 2:
        return f"sessions {first} and {first + 1} of {of}"
    return f"session {first} of {of}"


def _in_order(visit: Visit) -> list[Reading]:
    return sorted(visit.readings.all(), key=lambda r: (MOMENTS.index(r.phase), r.taken_at, r.pk))


def _or_dash(value: Any, unit: str = "") -> str:
    return "–" if value is None or value == "" else f"{as_typed(value)}{unit}"


def _measured(row: Reading) -> Measured:
    standing = row.standing_systolic_mmhg
    upright = f"{standing}/{row.standing_diastolic_mmhg}" if standing is not None else ""
    return Measured(
        row,
        [
            _or_dash(row.heart_rate_bpm),
            _or_dash(row.pressure),
            _or_dash(upright),
            _or_dash(row.spo2_percent),
            _or_dash(row.glucose_words),
            f"{Mass(row.weight_kg)}" if row.weight_kg is not None else "–",
            _or_dash(row.temperature_c),
            _or_dash(row.rpe),
            _or_dash(row.angina),
        ],
    )


def _worked(row: Bout, units: Units) -> Worked:
    set_to = [
        value_words(name, getattr(row, name), unit, units)
        for name, unit in WORK.items()
        if getattr(row, name) is not None
    ]
    pressure = f"{row.systolic_mmhg}/{row.diastolic_mmhg}" if row.systolic_mmhg is not None else ""
    mets = "–" if row.mets is None else f"{row.mets:.1f}"
    return Worked(
        row,
        ", ".join([row.exercise, *set_to] if row.exercise else set_to) or "–",
        [
            _or_dash(row.minutes),
            mets if row.is_mets_in_range or row.mets is None else f"{mets} (outside its range)",
            _or_dash(row.heart_rate_bpm),
            _or_dash(pressure),
            _or_dash(row.spo2_percent),
            _or_dash(row.rpe),
            _or_dash(row.angina),
            _or_dash(row.dyspnoea),
        ],
    )


def _groups(visit: Visit) -> frozenset[str]:
    patient = visit.enrolment.patient
    return groups_of(record_with_hba1c(patient), visit.on)


def _answered(visit: Visit, groups: frozenset[str], title: str, questions: Any) -> Answered:
    given = visit.answers
    asked = [q for q in questions if q.id in given]
    if title == ASKED[0][0] and "needed_help" in given:
        asked.append(BY_ID["needed_help"])
    return Answered(
        title,
        [q.asks for q in asked if given[q.id]],
        [q.asks for q in asked if not given[q.id]],
        [q.asks for q in questions if q.id not in given and applies_to(q, groups=groups)],
    )


def _seen(row: RhythmFinding) -> list[tuple[str, str]]:
    """What was seen on the monitor, label and value; what was not noted is left out."""
    found = []
    for field in RhythmFinding._meta.fields:
        if field.name in {"id", "visit"}:
            continue
        value = getattr(row, field.name)
        if value is None or value == "":
            continue
        words = (
            YES_NO[value]
            if isinstance(value, bool)
            else getattr(row, f"get_{field.name}_display")()
            if field.choices
            else as_typed(value)
        )
        found.append((LABELS.get(field.name, str(field.verbose_name)), str(words)))
    return found


LABELS = {
    "pvc_per_minute": "PVCs per minute",
    "has_couplets": "couplets",
    "has_triplets": "triplets",
    "is_multiform": "multiform PVCs",
    "pvc_is_rising": "PVCs more frequent",
    "run_beats": "ventricular run, beats",
    "run_rate_bpm": "ventricular run, /min",
    "qrs_before_ms": "QRS before, ms",
    "qrs_during_ms": "QRS in exercise, ms",
    "new_block": "new AV or bundle branch block",
}
