"""The twelve weeks of one person as one picture: geometry here, drawing in the template.

Attendance, assessments, signatures and trends share one time axis.
"""

from dataclasses import dataclass, field
from datetime import date

from assessments.calc.schedule import Line
from assessments.calc.timing import Standing
from patients.calc.days import in_words
from patients.wall import clock
from programs.attendance.models import Visit
from programs.enrolment.models import Enrolment, PlannedSession
from programs.prescription.calc.signature import due_dates, next_signature_due
from reports.time_axis import COLUMN, LEFT, x_of
from reports.trends import TREND_GAP, Trend, Worked, trends_of, worked_of

ROW, TOP = 30.0, 52.0
LONGEST_WEEKS = 24


@dataclass(frozen=True)
class Cell:
    """One session: its place, state word and what hovering tells."""

    x: float
    y: float
    state: str  # planned, attended, held, missed, stopped, now
    words: str
    url_pk: int | None = None


@dataclass(frozen=True)
class Mark:
    x: float
    label: str
    words: str
    is_done: bool
    is_small: bool = False
    is_late: bool = False


@dataclass
class Journey:
    weeks: list[tuple[int, float]]
    this_week_x: float | None
    rows: list[tuple[str, float]]
    cells: list[Cell]
    marks_y: float
    marks: list[Mark]
    flags: list[Mark]
    trends: list[Trend]
    width: float
    height: float
    table: list["SessionLine"] = field(default_factory=list)
    column: float = COLUMN
    left: float = LEFT

    @property
    def right(self) -> float:
        return self.width - 36


@dataclass(frozen=True)
class SessionLine:
    """The same session as a line of the table beside the picture."""

    on: date
    state: str
    minutes: int | None
    pressure: str
    dose: float | None
    rpe: int | None
    visit: int


def draw(
    enrolment: Enrolment,
    planned: list[PlannedSession],
    visits: list[Visit],
    assessments: list[Line],
    signed_on: list[date],
    today: date,
) -> Journey:
    """Lay out a course. ``visits`` bring their readings and bouts along."""
    weeks = _weeks(enrolment, planned, visits)
    rows = _rows(planned, visits)
    cells = _cells(enrolment, planned, visits, rows, today)
    marks_y = TOP + len(rows) * ROW + 10
    trends_top = marks_y + 100
    sessions = [worked_of(visit) for visit in visits]
    trends = trends_of(enrolment, sessions, trends_top)
    inside = 0 <= (today - enrolment.starts_on).days < len(weeks) * 7 and enrolment.is_open
    week = enrolment.week_on(today)
    return Journey(
        weeks=[(n, LEFT + (n - 0.5) * COLUMN) for n in weeks],
        this_week_x=LEFT + (week - 1) * COLUMN if inside else None,
        rows=[(label, y) for label, y in rows.values()],
        cells=cells,
        marks_y=marks_y,
        marks=_marks(enrolment, assessments),
        flags=_flags(enrolment, signed_on, today),
        trends=trends,
        width=LEFT + len(weeks) * COLUMN + 36,
        height=trends_top + len(trends) * TREND_GAP + 10,
        table=list(map(_line, visits, sessions)),
    )


def _weeks(enrolment: Enrolment, planned: list, visits: list) -> range:
    days = [p.on for p in planned] + [v.on for v in visits]
    last = max([enrolment.week_on(day) for day in days] + [enrolment.weeks])
    return range(1, min(last, LONGEST_WEEKS) + 1)


def _key(slot) -> tuple:
    return (slot.weekday, slot.starts_at)


def _rows(planned: list[PlannedSession], visits: list[Visit]) -> dict[tuple, tuple[str, float]]:
    """One row a weekly class the person was ever in, Monday first."""
    slots = {_key(p.slot): p.slot for p in planned} | {
        _key(v.meeting.slot): v.meeting.slot for v in visits
    }
    crowded = len({weekday for weekday, _ in slots}) < len(slots)
    return {
        key: (
            slots[key].get_weekday_display()[:3]
            + (f" {clock(slots[key].starts_at)}" if crowded else ""),
            TOP + i * ROW,
        )
        for i, key in enumerate(sorted(slots))
    }


LABELS = {"baseline": "baseline", "six_weeks": "six weeks", "exit": "exit"}
STATES = {
    Visit.State.FINISHED: "attended",
    Visit.State.STOPPED: "stopped",
    Visit.State.HELD: "held",
    Visit.State.ABSENT: "missed",
    Visit.State.ARRIVED: "now",
    Visit.State.EXERCISING: "now",
}


def _cells(enrolment, planned, visits, rows, today) -> list[Cell]:
    seen = {(_key(v.meeting.slot), v.on): v for v in visits if v.state in STATES}
    cells = [
        _cell(enrolment, rows, key, on, STATES[visit.state], _visit_words(visit), visit.pk)
        for (key, on), visit in seen.items()
    ]
    for p in planned:
        if (_key(p.slot), p.on) not in seen:
            state = "planned" if p.on >= today else "unrecorded"
            words = (
                f"{p.on:%a} {in_words(p.on)}, {'planned' if p.on >= today else 'nothing recorded'}"
            )
            cells.append(_cell(enrolment, rows, _key(p.slot), p.on, state, words, None))
    return [cell for cell in cells if LEFT <= cell.x <= LEFT + LONGEST_WEEKS * COLUMN]


def _cell(enrolment, rows, key, on, state, words, pk) -> Cell:
    x = LEFT + (enrolment.week_on(on) - 0.5) * COLUMN
    return Cell(x, rows[key][1], state, words, pk)


def _visit_words(visit: Visit) -> str:
    words = [f"{visit.on:%a} {in_words(visit.on)}", visit.get_state_display()]
    if visit.state == Visit.State.ABSENT:
        words.append(visit.get_absence_display())
    if visit.minutes:
        words.append(f"{visit.minutes} min")
    if visit.state == Visit.State.FINISHED and not visit.sessions_counted:
        words.append("does not count")
    return ", ".join(words)


def _marks(enrolment: Enrolment, assessments: list[Line]) -> list[Mark]:
    marks = []
    for line in assessments:
        m, is_done = line.milestone, line.performed_on is not None
        if not is_done and not enrolment.is_open:
            continue
        day = line.performed_on or line.on
        words = f"{m.name}, {_assessment_words(line)} {in_words(day)}"
        label = LABELS.get(m.kind, "")
        is_late = line.standing in {Standing.LATE, Standing.MISSED}
        x = x_of(day, enrolment.starts_on)
        marks.append(Mark(x, label, words, is_done, not m.is_formal, is_late))
    return marks


def _assessment_words(line: Line) -> str:
    if line.is_booked:
        return "booked for"
    told = {Standing.MISSED, Standing.EXCUSED}
    is_said = line.performed_on is not None or line.standing in told
    return f"{line.standing}" if is_said else "due"


def _flags(enrolment, signed_on: list[date], today: date) -> list[Mark]:
    flags = [
        Mark(x_of(day, enrolment.starts_on), "", f"plan signed {in_words(day)}", True)
        for day in signed_on
    ]
    if enrolment.is_open:
        due = next_signature_due(max(signed_on, default=None), enrolment.starts_on)
        for day in due_dates(due, enrolment.planned_end_on):
            late = day < today
            words = f"plan signature {'overdue since' if late else 'due'} {in_words(day)}"
            flags.append(Mark(x_of(day, enrolment.starts_on), "", words, False, is_late=late))
    return flags


def _line(visit: Visit, session: Worked) -> SessionLine:
    return SessionLine(
        visit.on,
        _visit_words(visit).split(", ", 1)[1],
        visit.minutes,
        session.before.pressure if session.before else "",
        session.dose,
        int(session.rpe) if session.rpe else None,
        visit.pk,
    )
