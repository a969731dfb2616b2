"""The columns of the class table: what is stored, and boxes where something is to be entered."""

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from patients.calc.measuring import KMH, MMOL_L, MPH, Unit, Units
from programs.attendance.calc.catalogue import RULES
from programs.attendance.calc.counting import ONE_SESSION_MINUTES
from programs.attendance.calc.levels import Level
from programs.attendance.calc.questions import (
    ASKED_AFTER,
    ASKED_BEFORE,
    SEEN_DURING,
    Question,
    applies_to,
)
from programs.attendance.calc.rhythm import RHYTHM_WORDS, RHYTHMS
from programs.attendance.calc.sheet import Vitals
from programs.attendance.calc.stages import Stage
from programs.attendance.models import Bout, Visit
from programs.attendance.today.roster import RosterRow
from programs.attendance.visit.bouts import minutes_of

State = Visit.State
NO_ECG = "no"
VITAL_OF = {rule.subject: rule.vital for rule in RULES if rule.vital}
# What stands in a line; any other rhythm is an exception, and entered on the sheet.
USUAL = ("sinus", "paced", "af")
MONITOR = (("", "ECG?"), (NO_ECG, "no ECG"), *[one for one in RHYTHMS if one[0] in USUAL])
EXAMPLES = {KMH: "Load, such as 5.2 km/h 2 %", MPH: "Load, such as 3.2 mph 2 %"}
MACHINES = (("", "machine"), *Bout.Activity.choices)


class Box(NamedTuple):
    """Something to enter."""

    name: str
    label: str
    value: str = ""
    kind: str = "number"  # number, pressure, load, choice or tick
    options: tuple[tuple[str, str], ...] = ()
    was: str = ""  # what is stored, where it may be typed over
    is_wrong: bool = False
    title: str = ""


class Cell(NamedTuple):
    """One column of a line: what is stored, or the box for it."""

    label: str
    css: str = ""
    text: str = ""
    small: str = ""
    box: Box | None = None
    filled: Box | None = None  # the box of what is stored, for what was typed all the same
    level: str = ""  # of an unanswered finding about this value

    @property
    def is_named(self) -> bool:
        """Whether its name stands beside it where a small screen has no heads of columns."""
        return bool(self.text) or (self.box is not None and self.box.kind not in {"tick", "choice"})

    @property
    def classes(self) -> str:
        """How it looks; on a small screen what is empty takes no room."""
        empty = "none" if not self.text and self.box is None else ""
        return " ".join(part for part in (self.css, self.level, empty) if part)


def _levels(row: RosterRow, phases: str) -> dict[str, str]:
    """The worst unanswered finding about each vital sign."""
    found: dict[str, str] = {}
    for one in row.open_findings:
        vital = VITAL_OF.get((one.rule_id, one.about))
        if vital and one.rule_id[0] in phases:
            found.setdefault(vital, Level(one.level).word)
    return found


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _glucose(mgdl: float, unit: Unit) -> str:
    return f"{unit.from_stored(mgdl):.{1 if unit is MMOL_L else 0}f}"


def _cell(label: str, css: str, text: str, box: Box | None, level: str = "") -> Cell:
    """What is stored; the box where nothing is and something may be entered."""
    return Cell(label, css, text, box=None if text else box, filled=box, level=level)


def _check_in(row: RosterRow, units: Units, at: Stage | None, now: datetime) -> tuple[Cell, ...]:
    before, levels = row.before or Vitals(), _levels(row, "EG")
    is_open = at is Stage.CHECK_IN

    def box(name: str, label: str, kind: str = "number") -> Box | None:
        return Box(f"before_{name}", label, kind=kind) if is_open else None

    kg, mgdl = units.weight, units.glucose
    weight = "" if before.weight_kg is None else f"{kg.from_stored(before.weight_kg):.1f}"
    glucose = ""
    if before.glucose_mgdl is not None:
        glucose = _glucose(before.glucose_mgdl, mgdl)
    cells = [
        _cell("HR", "n", _number(before.heart_rate_bpm),
              box("heart_rate_bpm", "Heart rate, /min"), levels.get("heart_rate_bpm", "")),
        _cell("Pressure", "n wide", before.pressure,
              box("pressure", "Blood pressure, mmHg", "pressure"),
              levels.get("systolic_mmhg") or levels.get("diastolic_mmhg", "")),
        _cell("SpO₂", "n", _number(before.spo2_percent),
              box("spo2_percent", "SpO₂, %"), levels.get("spo2_percent", "")),
        _cell(f"Weight {kg.name}", "n", weight,
              box("weight_kg", f"Weight, {kg.name}"), levels.get("weight_kg", "")),
        _cell(f"Glucose {mgdl.name}", "n", glucose,
              box("glucose_mgdl", f"Glucose, {mgdl.name}") if row.has_diabetes else None,
              levels.get("glucose_mgdl", "")),
    ]  # fmt: skip
    return (*cells, _since(row, is_open=is_open), _monitor(row, is_open=is_open))


def _told(
    label: str, questions: Sequence[Question], row: RosterRow, none: str, box: Box | None
) -> Cell:
    """What was answered yes; ``none`` only where all were answered no; else the box for it."""
    answers = row.visit.answers if row.visit else {}
    yes = [q.asks for q in questions if answers.get(q.id)]
    if yes:
        return Cell(label, "since", yes[0], f"and {len(yes) - 1} more" if yes[1:] else "")
    if all(q.id in answers for q in questions if applies_to(q, groups=row.groups)):
        return Cell(label, "since", none)
    return Cell(label, "since", box=box)


def _since(row: RosterRow, *, is_open: bool) -> Cell:
    """The questions before exercise: all answered no at once, or opened on the sheet."""
    box = Box("before_asked", "No changes", kind="tick")
    return _told("Since last time", ASKED_BEFORE, row, "✓ No changes", box if is_open else None)


def _monitor(row: RosterRow, *, is_open: bool) -> Cell:
    """The rhythm on the monitor, as last time until somebody says otherwise."""
    visit, last = row.visit, row.last_time
    if visit is not None and visit.has_ecg is not None:
        return Cell("ECG", "ecg", "no ECG" if not visit.has_ecg else "ECG")
    if not is_open:
        return Cell("ECG", "ecg")
    value = ""
    if last is not None and last.has_ecg is not None:
        value = last.rhythm if last.has_ecg else NO_ECG
    known = RHYTHM_WORDS.get(value, "no ECG" if value == NO_ECG else "")
    offered = value if value in (*USUAL, NO_ECG) else ""
    return Cell(
        "ECG", "ecg",
        box=Box("monitor", "ECG, rhythm",
                offered, "choice", MONITOR, was=offered,
                title=f"Last time: {known}" if known else ""),
    )  # fmt: skip


def _exercise(row: RosterRow, units: Units, at: Stage | None, now: datetime) -> tuple[Cell, ...]:
    before = row.before or Vitals()
    running = row.running or (row.bouts[-1] if row.bouts else None)
    if at is not Stage.EXERCISE:
        work = running.work if running else row.last_work or (row.dose.work if row.dose else None)
        rest = "at rest" if row.state == State.ARRIVED and before.heart_rate_bpm else ""
        is_past = row.state in Visit.EXERCISED and running is not None
        rate = running.heart_rate_bpm if is_past and running else before.heart_rate_bpm
        pressure = running.pressure if is_past and running else before.pressure
        levels = _levels(row, "EG")
        shown = row.state != State.ABSENT and work is not None
        return (
            Cell("HR", "n", _number(rate), rest, level=levels.get("heart_rate_bpm", "")),
            Cell("Pressure", "n wide", pressure, level=levels.get("systolic_mmhg", "")),
            Cell("RPE", "n", _number(running.rpe) if running else ""),
            Cell("SpO₂", "n", _number(running.spo2_percent if is_past and running
                                      else before.spo2_percent)),
            Cell("Machine", "machine", work.name if shown and work else ""),
            Cell("Load", "load", work.load(units) if shown and work else ""),
            Cell("Signs", "since"),
        )  # fmt: skip
    work = running.work if running else None
    machine, load = (work.activity, work.load(units)) if work else ("", "")

    def box(name: str, label: str, value: str, kind: str = "number") -> Cell:
        short = {"heart_rate_bpm": "HR", "pressure": "Pressure", "rpe": "RPE"}.get(name, "SpO₂")
        css = "n wide" if kind == "pressure" else "n"
        return Cell(short, css, box=Box(f"bout_{name}", label, value, kind, was=value))

    return (
        box("heart_rate_bpm", "Heart rate, /min", _number(running and running.heart_rate_bpm)),
        box("pressure", "Blood pressure, mmHg", running.pressure if running else "", "pressure"),
        box("rpe", "RPE, 6 to 20", _number(running and running.rpe)),
        box("spo2_percent", "SpO₂, %", _number(running and running.spo2_percent)),
        Cell("Machine", "machine",
             box=Box("bout_activity", "Machine", machine, "choice", MACHINES, machine)),
        Cell("Load", "load",
             box=Box("bout_load", EXAMPLES[units.speed], load, "load", was=load)),
        _signs(row),
    )  # fmt: skip


def _signs(row: RosterRow) -> Cell:
    """Signs in exercise: none, or opened on the sheet; angina and dyspnea belong to each bout."""
    box = Box("during_asked", "No signs", kind="tick")
    told = _told("Signs", SEEN_DURING, row, "✓ No signs", box)
    is_open = row.running is not None and row.running.angina is None
    return Cell("Signs", "since", box=box) if is_open and told.text == "✓ No signs" else told


def _finish(row: RosterRow, units: Units, at: Stage | None, now: datetime) -> tuple[Cell, ...]:
    after, levels = row.recovery or Vitals(), _levels(row, "R")
    visit, is_open = row.visit, at is Stage.FINISH
    mgdl = units.glucose
    minutes = str(visit.minutes) if visit and visit.minutes is not None else ""
    ran = [one.minutes or minutes_of(one.began_at, now) or 0 for one in row.bouts]
    glucose = "" if after.glucose_mgdl is None else _glucose(after.glucose_mgdl, mgdl)

    def box(name: str, label: str, kind: str = "number", value: str = "") -> Box | None:
        return Box(name, label, value, kind) if is_open else None

    return (
        _cell("HR", "n", _number(after.heart_rate_bpm),
              box("recovery_heart_rate_bpm", "Recovery heart rate, /min"),
              levels.get("heart_rate_bpm", "")),
        _cell("Pressure", "n wide", after.pressure,
              box("recovery_pressure", "Recovery blood pressure, mmHg", "pressure"),
              levels.get("systolic_mmhg", "")),
        _cell(f"Glucose {mgdl.name}", "n", glucose,
              box("recovery_glucose_mgdl", f"Recovery glucose, {mgdl.name}")
              if row.has_diabetes else None, levels.get("glucose_mgdl", "")),
        _cell("Minutes", "n", "" if is_open else minutes,
              box("minutes", "Session minutes", value=minutes or str(sum(ran) or ""))),
        _leaving(row, is_open=is_open),
    )  # fmt: skip


def _leaving(row: RosterRow, *, is_open: bool) -> Cell:
    box = Box("after_asked", "No symptoms", kind="tick")
    return _told("In recovery", ASKED_AFTER, row, "✓ No symptoms", box if is_open else None)


CELLS = {Stage.CHECK_IN: _check_in, Stage.EXERCISE: _exercise, Stage.FINISH: _finish}
# What one press answers, told in the head of its column.
NO_CHANGES = "No changes: asked about everything on the list, all answered no"
NO_SIGNS = (
    "No signs: angina 0, dyspnea 0, none of the list; with ECG also no PVCs, ectopy, ST change "
    "or block, rhythm as before"
)
NO_SYMPTOMS = "No symptoms: asked about everything on the list, all answered no"
MINUTES = (
    "By the clock of the bouts until somebody types them; with fewer than "
    f"{ONE_SESSION_MINUTES} the session does not count"
)
# The heads of the columns: a name, the unit below it, how wide the column is, what a press means.
HEADS = {
    Stage.CHECK_IN: lambda u: (
        ("HR", "/min", "n", ""),
        ("Pressure", "mmHg", "n wide", ""),
        ("SpO₂", "%", "n", ""),
        ("Weight", u.weight.name, "n", ""),
        ("Glucose", u.glucose.name, "n", ""),
        ("Since last time", "", "since", NO_CHANGES),
        ("ECG", "", "ecg", "As last time until somebody says otherwise"),
    ),
    Stage.EXERCISE: lambda u: (
        ("HR", "/min", "n", ""),
        ("Pressure", "mmHg", "n wide", ""),
        ("RPE", "6–20", "n", ""),
        ("SpO₂", "%", "n", ""),
        ("Machine", "", "machine", ""),
        ("Load", "", "load", ""),
        ("Signs", "", "since", NO_SIGNS),
    ),
    Stage.FINISH: lambda u: (
        ("HR", "recovery", "n", ""),
        ("Pressure", "recovery", "n wide", ""),
        ("Glucose", u.glucose.name, "n", ""),
        ("Minutes", f"{ONE_SESSION_MINUTES} or more", "n", MINUTES),
        ("In recovery", "", "since", NO_SYMPTOMS),
    ),
}
