"""Every measure on one scale: a change in units of its own meaningful change, better to the right.

Dividing a change by what has mattered to patients is a project choice, as is how far the axis
goes; sources of meaningful changes and errors stand with each measure.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, floor

from assessments.calc.measure import Direction, Measure
from reports.calc.change import ComparisonRow

LOWEST, HIGHEST = -4, 6  # what lies beyond is drawn at the edge and said in words


@dataclass(frozen=True)
class Mark:
    """One later stage on the scale."""

    at: float  # meaningful changes from baseline, better is positive
    is_meaningful: bool


@dataclass(frozen=True)
class Placed:
    """One measure on the scale; a stage that cannot be compared has no mark."""

    six_weeks: Mark | None
    exit: Mark | None
    error: float | None  # half width of the error of measuring, None where none is on record


@dataclass(frozen=True)
class Axis:
    """From where to where the scale is drawn. [meaningful changes]"""

    low: int
    high: int

    def share(self, at: float) -> float:
        """Where a place lies on the drawing.

        Parameters
        ----------
        at : place on the scale. [meaningful changes]

        Returns
        -------
        Per cent from the left, 0 to 100; what lies beyond the axis is at its edge.
        """
        within = min(max(at, self.low), self.high)
        return 100 * (within - self.low) / (self.high - self.low)

    def holds(self, at: float) -> bool:
        """Whether a place can be drawn where it lies.

        Parameters
        ----------
        at : place on the scale. [meaningful changes]

        Returns
        -------
        False where it lies beyond an end.
        """
        return self.low <= at <= self.high

    @property
    def ticks(self) -> range:
        """The whole numbers of the axis."""
        return range(self.low, self.high + 1)


def beyond(placed: Placed | None) -> str:
    """What is said of a change that no axis shows in its length.

    Parameters
    ----------
    placed : a measure on the scale, None for one that is not.

    Returns
    -------
    The words; "" where every mark finds room.
    """
    if placed is None:
        return ""
    marks = [mark.at for mark in (placed.exit, placed.six_weeks) if mark is not None]
    far = [at for at in marks if not LOWEST <= at <= HIGHEST]
    return f"{abs(far[0]):.1f} meaningful changes, more than the figure shows" if far else ""


def is_on_scale(measure: Measure) -> bool:
    """Whether changes of a measure can be put on the common scale.

    Parameters
    ----------
    measure : the measure.

    Returns
    -------
    True with an agreed meaningful change and one end that is better over the whole range.
    """
    return (
        measure.meaningful_change is not None
        and measure.direction is not Direction.NEITHER
        and measure.judged_from is None
    )


def place(row: ComparisonRow) -> Placed | None:
    """One measure on the scale.

    Parameters
    ----------
    row : the comparison of one measure.

    Returns
    -------
    Its marks; None for a measure that does not belong on the scale.
    """
    meaning = row.measure.meaningful_change
    if meaning is None or not is_on_scale(row.measure):
        return None
    error = row.measure.detectable_change
    return Placed(
        _mark(row, "six_weeks", meaning.amount),
        _mark(row, "exit", meaning.amount),
        error.amount / meaning.amount if error else None,
    )


def _mark(row: ComparisonRow, stage: str, meaningful: float) -> Mark | None:
    change = row.changes.get(stage)
    if change is None or change.caution:
        return None
    at = change.amount * row.measure.direction / meaningful
    return Mark(at, change.verdict.is_meaningful)


def axis_of(placed: Iterable[Placed]) -> Axis:
    """An axis on which all of them find room.

    Parameters
    ----------
    placed : measures on the scale.

    Returns
    -------
    From a whole number at or below -1 to one at or above 1, never beyond -4 and 6.
    """
    ends = [-1.0, 1.0]
    for one in placed:
        ends += [mark.at for mark in (one.six_weeks, one.exit) if mark is not None]
        ends += [one.error, -one.error] if one.error is not None else []
    return Axis(max(floor(min(ends)), LOWEST), min(ceil(max(ends)), HIGHEST))
