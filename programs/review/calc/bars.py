"""The heart rate of each session beside a range, as a figure (a project choice of drawing)."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from patients.calc.days import short_day

WIDTH, LEFT, RIGHT = 760.0, 44.0, 100.0  # of the drawing; the range of the draft stands at right
TOP, BOTTOM = 34.0, 118.0  # between which the rates lie
LEAST_SPAN = 30.0  # so that a narrow range is not drawn as a wide one [/min]
LABELS = 8  # days named below, at most


@dataclass(frozen=True)
class Session:
    """A visit: lowest and highest heart rate under exercise [/min], None when none is recorded."""

    on: date
    state: str
    low: int | None = None
    high: int | None = None
    rpe: int | None = None


SIGNS = {"finished": "●", "held": "◐", "stopped": "◐", "absent": "✕"}


@dataclass(frozen=True)
class Bar:
    x: float
    top: float | None
    bottom: float | None
    sign: str  # of how the session went; a ring for one that is not over
    day: str  # "" where there is no room for it
    over: str  # the highest rate, where it lies beyond the range

    @property
    def text_y(self) -> float:
        """Where the highest rate is written."""
        return (self.top or 0) - 6


@dataclass(frozen=True)
class Band:
    low: int
    high: int
    y: float
    height: float

    @property
    def low_y(self) -> float:
        """Where the lower end is written."""
        return self.y + self.height + 4

    @property
    def high_y(self) -> float:
        """Where the upper end is written, above the lower one however narrow the band."""
        return min(self.y + 4, self.low_y - 12)


@dataclass(frozen=True)
class Figure:
    """Everything the page draws; ``signed`` and ``draft`` are None where there is no range."""

    bars: tuple[Bar, ...]
    signed: Band | None
    draft: Band | None
    width: float = WIDTH
    height: float = BOTTOM + 26
    right: float = WIDTH - RIGHT


def figure_of(
    sessions: Sequence[Session],
    signed: tuple[int, int] | None,
    draft: tuple[int, int] | None,
    today: date,
) -> Figure | None:
    """Sessions in order, side by side.

    Parameters
    ----------
    sessions : of the span that is told, by day.
    signed, draft : ends of the ranges. [/min], None when none is prescribed
    today : the day it is read.

    Returns
    -------
    The figure; None where there is neither a session nor a range.
    """
    ends = [rate for one in sessions for rate in (one.low, one.high) if rate is not None]
    ends += [rate for span in (signed, draft) if span for rate in span]
    if not sessions or not ends:
        return None
    low, high = float(min(ends)), float(max(ends))
    spare = max(0.0, LEAST_SPAN - (high - low)) / 2
    low, high = low - spare, high + spare

    def y(rate: float) -> float:
        return round(BOTTOM - (rate - low) / (high - low) * (BOTTOM - TOP), 1)

    def band(span: tuple[int, int] | None) -> Band | None:
        if span is None:
            return None
        return Band(*span, y(span[1]), round(y(span[0]) - y(span[1]), 1))

    step = (WIDTH - LEFT - RIGHT) / len(sessions)
    every = -(-len(sessions) // LABELS)
    bars = [
        Bar(
            round(LEFT + step * (n + 0.5), 1),
            y(one.high) if one.high is not None else None,
            y(one.low) if one.low is not None else None,
            SIGNS.get(one.state, "○"),
            short_day(one.on, today) if n % every == 0 else "",
            f"{one.high}" if one.high is not None and signed and one.high > signed[1] else "",
        )
        for n, one in enumerate(sessions)
    ]
    return Figure(tuple(bars), band(signed), band(draft))
