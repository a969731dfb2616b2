"""The class as one table: a line a person, in the part of the work the class is in.

A line holds texts alone, so that what was drawn once is drawn again for nothing
(``drawing.drawn``). Boxes stand only where something is still to be entered; what is saved is
plain text, and is corrected on the sheet. The boxes have the names of the sheet's form, which
takes what is typed in them (``programs.attendance.line``).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from django.urls import reverse
from django.utils import timezone

from patients.calc.measuring import Units
from patients.calc.words import Word, word
from patients.wall import clock
from programs.attendance.calc.in_short import in_short
from programs.attendance.calc.levels import Level
from programs.attendance.calc.stages import Stage, stage_of
from programs.attendance.models import Visit
from programs.attendance.today.columns import CELLS, Cell
from programs.attendance.today.facts import Raised, Seen
from programs.attendance.today.roster import RosterRow
from programs.attendance.visit.bouts import minutes_of

State = Visit.State
UNDO_STOP_SECONDS = 60
# Unanswered findings come first, in this order; what is only said beside somebody comes after.
PINNED = ("stop", "hold", "speak")


class Under(NamedTuple):
    """An unanswered hold or stop, open under its line with what answers it."""

    level: str
    rule_id: str
    sentence: str
    source: str
    is_emergency: bool
    does: tuple[str, ...]


class Said(NamedTuple):
    """What the last press in a line came to."""

    level: str
    words: str
    link: str = ""
    link_words: str = ""


class Line(NamedTuple):
    key: str
    visit: str
    patient: str
    version: str
    name: str
    age: str
    session: str
    alert: Word | None
    more: tuple[Word, ...]
    target: str
    target_small: str
    cells: tuple[Cell, ...]
    state: str
    now: str
    now_small: str
    does: tuple[str, ...]
    stage: str
    place: str  # of the bout that runs
    is_ready: bool
    pinned: str
    unders: tuple[Under, ...]
    make_up: str = ""
    confirmed: str = ""
    said: Said | None = None
    is_refused: bool = False  # its boxes hold what was typed and not taken

    @property
    def has_boxes(self) -> bool:
        return any(cell.box for cell in self.cells)

    @property
    def now_words(self) -> str:
        return ", ".join(part for part in (self.now, self.now_small) if part)

    @property
    def quantities(self) -> tuple[str, ...]:
        """What is typed in it in one unit or another; the form carries the unit of each."""
        names = [cell.box.name for cell in self.cells if cell.box]
        ends = {"weight": ("_kg", "_load"), "glucose": ("_mgdl",), "speed": ("_load",)}
        return tuple(q for q, end in ends.items() if any(n.endswith(end) for n in names))

    @property
    def enter(self) -> str:
        """The step that Enter takes; nobody is started over anything missing by a key."""
        if "arrive" in self.does:
            return "arrive"
        if "finish" in self.does:
            return "finish"
        if "start" in self.does and self.is_ready and not self.has_boxes:
            return "start"
        return "save" if self.has_boxes else ""


@dataclass(frozen=True)
class Refused:
    """What was typed in a line and not taken, to stand in its boxes again."""

    key: str
    typed: dict[str, str]
    wrong: frozenset[str]
    said: Said
    confirmed: str = ""


def lines_of(
    rows: Sequence[RosterRow],
    stage: Stage,
    units: Units,
    *,
    may_write: bool,
    refused: Refused | None = None,
    said: dict[str, Said] | None = None,
) -> list[Line]:
    """The lines of a class in a part of its work: who has an unanswered finding first."""
    now = timezone.now()
    lines = [_line(row, stage, units, now, may_write=may_write) for row in rows]
    if refused is not None:
        lines = [_again(line, refused) if line.key == refused.key else line for line in lines]
    for key, words in (said or {}).items():
        if words.level != "fine":  # what went well is said in the bar alone
            lines = [line._replace(said=words) if line.key == key else line for line in lines]
    ranks = {level: place for place, level in enumerate(PINNED)}
    return sorted(lines, key=lambda line: ranks.get(line.pinned, len(PINNED)))


def _line(row: RosterRow, stage: Stage, units: Units, now: datetime, *, may_write: bool) -> Line:
    p, visit = row.planned, row.visit
    alerts = alerts_of(row)
    at = _stage_here(row, stage)
    cells = CELLS[stage](row, units, at if may_write else None, now)
    words, small = _now(row, now)
    running = row.running
    return Line(
        key=row.key,
        visit=str(visit.pk) if visit else "",
        patient=str(p.patient_id),
        version=str(visit.version) if visit else "0",
        name=p.name,
        age=str(row.age),
        session=f"session {row.session_number} of {p.sessions_planned} · wk {row.week}",
        alert=alerts[0] if alerts else None,
        more=tuple(alerts[1:]),
        target=(row.dose.heart_rate.removesuffix(" /min") or row.dose.rpe) if row.dose else "none",
        target_small=(row.dose.rpe if row.dose.heart_rate else "no HR range") if row.dose else "",
        cells=cells,
        state=row.state,
        now=words,
        now_small=small,
        does=_does(row, stage) if may_write else (),
        stage=str(at or stage),
        place=str(running.place) if running else "1",
        is_ready=row.is_ready,
        pinned=_pinned(row),
        make_up=row.make_up_words,
        unders=tuple(_under(raised, row) for raised in row.open_findings if raised.bars),
    )


# --- what matters about somebody ----------------------------------------------------------------


def alerts_of(row: RosterRow) -> list[Word]:
    """What matters today, the worst first; never by colour alone."""
    found = []
    for one in row.open_findings:
        level, short = Level(one.level).word, in_short(one.rule_id, one.about, one.sentence)
        found.append(word(level, f"{level.capitalize()}: {short}"))
    if row.has_concern:
        found.append(word("stop", "Speak with today"))
    if row.paused:
        found.append(word("hold", row.paused))
    if row.earlier_stop:
        found.append(word("hold", row.earlier_stop))
    found += [word("caution", words) for words in [*_above_target(row), *row.warnings]]
    return found + [word("plain", words) for words in row.flags]


def _above_target(row: RosterRow) -> list[str]:
    """What of the running bout lies above what is prescribed."""
    ran, dose = row.running, row.dose
    if ran is None or dose is None:
        return []
    measured = [("HR", ran.heart_rate_bpm, dose.high_bpm), ("RPE", ran.rpe, dose.rpe_high)]
    return [
        f"{name} {value} above {most}"
        for name, value, most in measured
        if value is not None and most is not None and value > most
    ]


def _pinned(row: RosterRow) -> str:
    worst = max((one.level for one in row.open_findings), default=0)
    if worst >= Level.HOLD:
        return Level(worst).word
    is_here = row.state in {State.EXPECTED, State.ARRIVED, State.EXERCISING}
    return "speak" if row.has_concern and is_here else ""


def _under(raised: Raised, row: RosterRow) -> Under:
    if row.state == State.ARRIVED:
        does: tuple[str, ...] = ("repeat", "hold", "answer")
    elif row.state == State.EXERCISING:
        does = ("stop", "answer")
    else:
        does = ("answer",)
    if raised.rule_id == "E-31":  # an earlier hold or stop: nothing to read again
        does = tuple(one for one in does if one != "repeat")
    level = Level(raised.level).word
    return Under(level, raised.rule_id, raised.sentence, raised.source, raised.is_emergency, does)


def strip_of(rows: Sequence[RosterRow], opened: int) -> list[tuple[Word, str]]:
    """The rest of a class beside an open sheet: alerts first, then who exercises; with links."""
    now = timezone.now()
    found = []
    for row in rows:
        if row.visit is None or row.visit.pk == opened:
            continue
        name, rank = row.planned.family_name, PINNED.index(_pinned(row)) if _pinned(row) else None
        words = alerts_of(row)[0] if rank is not None else None
        if words is not None:
            told = word(words.look, f"{name}: {words.text}")
        elif row.state == State.EXERCISING:
            told = word("note", f"{name}: {', '.join(part for part in _now(row, now) if part)}")
        else:
            continue
        found.append((len(PINNED) if rank is None else rank, told, row.visit.pk))
    found.sort(key=lambda one: one[0])
    return [(told, reverse("attendance:sheet", args=[pk])) for _, told, pk in found]


def now_words(row: RosterRow) -> str:
    """What somebody does now, in one line."""
    return ", ".join(part for part in _now(row, timezone.now()) if part)


# --- which part of the work, and what can be done -----------------------------------------------


def _stage_here(row: RosterRow, stage: Stage) -> Stage | None:
    """The part a line has boxes for; None where there is nothing to enter in this view."""
    own = stage_of(row.state)
    if own is Stage.EXERCISE and stage is Stage.FINISH:
        return stage
    return own if own is stage else None


def waiting_of(rows: Sequence[RosterRow]) -> dict[Stage, int]:
    """How many people have work in each part."""
    n_in = sum(row.state == State.EXERCISING for row in rows)
    n_ready = sum(row.is_ready for row in rows)
    n_before = sum(stage_of(row.state) is Stage.CHECK_IN for row in rows)
    return {
        Stage.CHECK_IN: n_before - n_ready,
        Stage.EXERCISE: n_in + n_ready,
        Stage.FINISH: n_in,
    }


def _does(row: RosterRow, stage: Stage) -> tuple[str, ...]:
    """The presses of a line, the likeliest first."""
    visit = row.visit
    if row.state == State.EXPECTED:
        return ("arrive", "absent")
    if row.state == State.ABSENT:
        return ("undo", "make-up")
    if row.state == State.ARRIVED:
        if row.is_ready or stage is not Stage.CHECK_IN:
            return ("start",)
        return () if row.before or row.is_asked else ("undo",)
    if row.state == State.EXERCISING:
        if stage is Stage.CHECK_IN:
            return ("stop",)
        return ("finish", "stop") if stage is Stage.FINISH else ("next", "stop")
    return ("undo-stop",) if visit is not None and may_undo_stop(visit) else ()


def may_undo_stop(visit: Visit | Seen) -> bool:
    """Exercise was stopped less than a minute ago."""
    if visit.state != State.STOPPED or visit.ended_at is None:
        return False
    return timezone.now() - visit.ended_at < timedelta(seconds=UNDO_STOP_SECONDS)


def _now(row: RosterRow, now: datetime) -> tuple[str, str]:
    """What somebody does now, and since when."""
    visit = row.visit
    if visit is None or row.state in {State.EXPECTED, State.ABSENT}:
        words = row.state_words
        return (
            ("Absent", words.removeprefix("Absent: ")) if row.state == State.ABSENT else (words, "")
        )
    came = clock(timezone.localtime(visit.arrived_at)) if visit.arrived_at else ""
    late = f", {row.late_minutes} min late" if row.late_minutes else ""
    if row.state == State.ARRIVED:
        return ("Ready" if row.is_ready else "Checked in"), f"{came}{late}"
    if row.state == State.EXERCISING:
        running = row.running
        since = minutes_of(visit.started_at, now) if visit.started_at else None
        total = f"{since} min" if since is not None else ""
        if running is None:
            return "Exercising", total
        ran, machine = minutes_of(running.began_at, now), running.work.name
        if running.place == 1:
            return f"{ran} min", machine
        return f"{ran} of {total}", f"{machine}, bout {running.place}"
    return row.state_words, ""


def _again(line: Line, refused: Refused) -> Line:
    """A line with what was typed in it and not taken."""
    cells = []
    for cell in line.cells:
        box = cell.box
        if box is None and cell.filled is not None and cell.filled.name in refused.wrong:
            box = cell.filled  # stored by somebody else meanwhile: what was typed stays
        if box is not None and box.name in refused.typed:
            value = "ticked" if box.kind == "tick" else refused.typed[box.name]
            wrong = box.name in refused.wrong
            cell = cell._replace(box=box._replace(value=value, is_wrong=wrong))
        cells.append(cell)
    return line._replace(
        cells=tuple(cells),
        said=refused.said,
        confirmed=refused.confirmed,
        is_refused=True,
    )
