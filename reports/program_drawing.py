"""Where the marks of the program's figures stand: numbers for the templates, no words decided.

Plain drawings rather than plotly: the first screen has five of them, and each is a few dozen
coordinates beside a table that says the same.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reports.calc.control import Month, Run
from reports.calc.retention import Level, Stay, followed, level_on
from reports.calc.spread import dots


@dataclass(frozen=True)
class Mark:
    """A point of a run chart; the text is what stands beside it."""

    x: float
    y: float
    is_signal: bool = False
    text: str = ""


@dataclass(frozen=True)
class RunDrawing:
    """A run of months: the band of limits, the centre, the line and its marks."""

    band: str  # points of a polygon
    centre: float | None
    line: str  # points of a polyline
    marks: tuple[Mark, ...]
    width: int
    height: int
    ticks: tuple[Mark, ...] = ()
    rows: tuple[Mark, ...] = ()
    judged_from: float | None = None
    right: int = 0

    @property
    def last(self) -> Mark | None:
        return self.marks[-1] if self.marks else None

    @property
    def words(self) -> str:
        """What the drawing says to whoever does not see it."""
        return ", ".join(mark.text for mark in self.marks) or "no month yet"


def spark(run: Run, percent: bool) -> RunDrawing:
    """A small run of the months judged."""
    return _run(run.months, run.centre, percent, (6, 252), (6, 38), 300, 44)


def run_chart(run: Run, month_words: Sequence[str]) -> RunDrawing:
    """The months that set the limits and those judged by them, with an axis."""
    months = (*run.before, *run.months)
    judged = [m.low for m in run.months if m.low is not None]
    high = [m.high for m in run.months if m.high is not None]
    before = [
        Month(m.month, m.value, m.n, judged[0] if judged else None, high[0] if high else None)
        for m in run.before
    ]
    drawn = _run((*before, *run.months), run.centre, False, (40, 542), (24, 160), 620, 196)
    places = _places(len(months), 40, 542)
    ticks = [
        Mark(x, 186, text=words)
        for n, (x, words) in enumerate(zip(places, month_words, strict=True))
        if n % 3 == 0
    ]
    n_before = len(run.before)
    from_x = None
    if 0 < n_before < len(months):
        from_x = round((places[n_before - 1] + places[n_before]) / 2, 1)
    return RunDrawing(
        drawn.band, drawn.centre, drawn.line, drawn.marks, 620, 196, tuple(ticks), drawn.rows,
        from_x, 548,
    )  # fmt: skip


def _places(n: int, left: float, right: float) -> list[float]:
    step = (right - left) / (n - 1) if n > 1 else 0.0
    return [round(left + step * place, 1) for place in range(n)]


def _run(
    months: Sequence[Month],
    centre: float | None,
    percent: bool,
    across: tuple[int, int],
    down: tuple[int, int],
    width: int,
    height: int,
) -> RunDrawing:
    places = _places(len(months), *across)
    known = [v for m in months for v in (m.value, m.low, m.high) if v is not None]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    if high == low:
        low, high = low - 0.5, high + 0.5

    def y(value: float) -> float:
        return round(down[1] - (value - low) / (high - low) * (down[1] - down[0]), 1)

    def words(value: float) -> str:
        return f"{100 * value:.0f} %" if percent else f"{value:.0f}"

    shown = [(x, m) for x, m in zip(places, months, strict=True) if m.value is not None]
    marks = [
        Mark(x, y(m.value), m.is_signal, words(m.value)) for x, m in shown if m.value is not None
    ]
    limited = [(x, m.low, m.high) for x, m in zip(places, months, strict=True)]
    over = [f"{x},{y(up)}" for x, _, up in limited if up is not None]
    under = [f"{x},{y(lo)}" for x, lo, _ in reversed(limited) if lo is not None]
    return RunDrawing(
        " ".join([*over, *under]),
        None if centre is None else y(centre),
        " ".join(f"{m.x},{m.y}" for m in marks),
        tuple(marks),
        width,
        height,
        rows=tuple(Mark(0, y(v), text=words(v)) for v in _round_values(low, high, percent)),
    )


def _round_values(low: float, high: float, percent: bool) -> list[float]:
    if percent:
        return []
    step = max(1, round((high - low) / 3 / 5) * 5)
    first = int(low // step * step)
    return [float(v) for v in range(first, int(high) + 1, step) if low <= v <= high]


# --- the way ------------------------------------------------------------------------------------

TOP, FLOOR = 58.0, 204.0


@dataclass(frozen=True)
class Bar:
    """One step of the staircase; horizontal places are shares of the width. [%]"""

    left: float
    right: float
    width: float
    y: float
    height: float
    waiting_y: float  # who stands on the step before and is still on the way
    waiting_height: float
    done_y: float  # who completed on the step before
    done_height: float
    lost_y: float  # who was lost on the step before
    lost_height: float
    label_y: float


def bars(
    reached: Sequence[int], lost: Sequence[int], done: Sequence[int], waiting: Sequence[int]
) -> list[Bar]:
    """The staircase: who is missing of the step before was lost there, completed, or is waiting."""
    step, full = 100 / len(reached), max(reached[0], 1)
    scale = (FLOOR - TOP) / full
    found = []
    for place, n in enumerate(reached):
        left = round(place * step, 2)
        y = FLOOR - n * scale
        waits = waiting[place - 1] * scale if place else 0.0
        ready = done[place - 1] * scale if place else 0.0
        gone = lost[place - 1] * scale if place else 0.0
        top = y - waits - ready - gone
        found.append(
            Bar(
                left,
                round(left + step * 0.86, 2),
                round(step * 0.86, 2),
                round(y, 1),
                round(n * scale, 1),
                round(y - waits, 1),
                round(waits, 1),
                round(y - waits - ready, 1),
                round(ready, 1),
                round(top, 1),
                round(gone, 1),
                round(top - 20, 1),
            )
        )
    return found


# --- days and weeks -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Dots:
    """Twenty dots over days; each stands for as many people."""

    marks: tuple[Mark, ...]
    ticks: tuple[Mark, ...]
    target: float
    width: float  # of the days that are in time


LEFT, RIGHT = 34, 600


def day_dots(counts: Mapping[int, int], target: int) -> Dots:
    """The days people waited as twenty dots, stacked by weeks."""
    values = dots(counts)
    longest = max(84.0, max(values, default=0) + 7)

    def x(day: float) -> float:
        return round(LEFT + max(0.0, day) / longest * (RIGHT - LEFT), 1)

    heights: dict[int, int] = {}
    marks = []
    for value in values:
        week = int(max(0.0, value) // 7)
        level = heights[week] = heights.get(week, -1) + 1
        marks.append(Mark(x(week * 7 + 3.5), 154.0 - 23 * level))
    every = 14 if longest <= 120 else 28
    ticks = [Mark(x(day), 186, text=str(day)) for day in range(0, int(longest) + 1, every)]
    return Dots(tuple(marks), tuple(ticks), x(target), round(x(target) - LEFT, 1))


@dataclass(frozen=True)
class Curve:
    """A curve with its band, marks at some weeks, and how many are followed there."""

    line: str
    band: str
    marks: tuple[Mark, ...]
    weeks: tuple[tuple[float, int, int], ...]  # place, week, people followed

    @property
    def words(self) -> str:
        """What the drawing says to whoever does not see it."""
        marked = zip(self.marks, MARKED, strict=False)  # the last weeks may have nobody yet
        return ", ".join(f"{mark.text} in week {week}" for mark, week in marked)


WEEKS = (0, 3, 6, 9, 12, 15, 18)
MARKED = (6, 12, 18)


def curve(levels: Sequence[Level], stays: Sequence[Stay]) -> Curve:
    """Who is still coming, by week up to the eighteenth."""
    last = WEEKS[-1] * 7

    def x(day: float) -> float:
        return round(76 + day / last * 494, 1)

    def y(share: float) -> float:
        return round(164 - share * 150, 1)

    shown = [one for one in levels if one.day <= last and followed(stays, one.day)]
    until = min(last, max((stay.days for stay in stays), default=0))
    line, over, under = [], [], []
    for one, after in zip(shown, [*shown[1:], None][: len(shown)], strict=True):
        end = after.day if after else max(one.day, until)
        line += [f"{x(one.day)},{y(one.share)}", f"{x(end)},{y(one.share)}"]
        if one.low is not None and one.high is not None:
            over += [f"{x(one.day)},{y(one.high)}", f"{x(end)},{y(one.high)}"]
            under += [f"{x(one.day)},{y(one.low)}", f"{x(end)},{y(one.low)}"]
    marks = []
    for week in MARKED:
        level = level_on(levels, week * 7)
        if level is not None and followed(stays, week * 7):
            marks.append(Mark(x(week * 7), y(level.share), text=f"{100 * level.share:.0f} %"))
    weeks = tuple((x(week * 7), week, followed(stays, week * 7)) for week in WEEKS)
    return Curve(" ".join(line), " ".join([*over, *reversed(under)]), tuple(marks), weeks)
