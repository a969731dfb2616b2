"""Is it better or worse than before? A run of months beside limits from the year before.

A signal is a month outside the limits, or eight in a row on one side of the centre (common
practice, no source). Limits come from the months before, never from those that are judged.

References
----------
W. A. Shewhart, "Economic Control of Quality of Manufactured Product," 1931: three standard errors
on either side. Single values: centre and 2.66 times the mean moving range, D. J. Wheeler,
"Understanding Variation," 1993.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import sqrt
from statistics import fmean

from patients.calc.limits import OutOfRange
from reports.calc.proportion import Proportion

RUN = 8
FEWEST_MONTHS = 6  # that set limits (project choice)
MOVING_RANGE = 2.66


@dataclass(frozen=True)
class Month:
    """One month of a run chart: its value with the limits it is judged by; None where unknown."""

    month: int  # since year 0, January of which is 0
    value: float | None
    n: int
    low: float | None = None
    high: float | None = None
    is_signal: bool = False


@dataclass(frozen=True)
class Run:
    """Months judged, the centre they are judged by, and what that comes to.

    Attributes
    ----------
    word : "higher", "lower", "no change" or "" when nothing can be said.
    months : those judged, in order; before, those that set the limits.
    """

    word: str
    sentence: str
    centre: float | None
    before: tuple[Month, ...]
    months: tuple[Month, ...]


def p_limits(centre: float, n: int) -> tuple[float, float]:
    """Limits of a share of n people, three standard errors on either side.

    Parameters
    ----------
    centre : the share expected. [1], 0 to 1
    n : people of the month. [people], 1 or more

    Returns
    -------
    Lower and upper limit, within 0 and 1. [1]

    Raises
    ------
    OutOfRange : a value outside these limits.
    """
    if not 0 <= centre <= 1:
        raise OutOfRange("Centre", centre, 0, 1)
    if n < 1:
        raise OutOfRange("People of a month", n, 1, 1_000_000)
    spread = 3 * sqrt(centre * (1 - centre) / n)
    return max(0.0, centre - spread), min(1.0, centre + spread)


def shares(
    before: Sequence[tuple[int, Proportion]], judged: Sequence[tuple[int, Proportion]]
) -> Run:
    """A run of monthly shares.

    Parameters
    ----------
    before : month and share of those that set the limits, in order.
    judged : month and share of those that are judged, in order.

    Returns
    -------
    The run; without a word when too few months set limits.
    """
    first = tuple(Month(month, p.share, p.denominator) for month, p in before)
    rest = [Month(month, p.share, p.denominator) for month, p in judged]
    n = sum(p.denominator for _, p in before)
    if _known(first) < FEWEST_MONTHS:
        return _unjudged(first, rest)
    centre = sum(p.numerator for _, p in before) / n
    limited = []
    for month in rest:
        low, high = p_limits(centre, month.n) if month.n else (None, None)
        limited.append(replace(month, low=low, high=high))
    return _judge(centre, first, limited)


def values(
    before: Sequence[tuple[int, float | None, int]], judged: Sequence[tuple[int, float | None, int]]
) -> Run:
    """A run of single monthly values, such as a median of days.

    Parameters
    ----------
    before : month, value [any unit] and people of those that set the limits, in order.
    judged : the same of those that are judged.

    Returns
    -------
    The run; without a word when too few months set limits.
    """
    first = tuple(Month(*row) for row in before)
    rest = [Month(*row) for row in judged]
    known = [month.value for month in first if month.value is not None]
    if len(known) < FEWEST_MONTHS:
        return _unjudged(first, rest)
    centre = fmean(known)
    moves = [abs(later - earlier) for earlier, later in pairwise(known)]
    half = MOVING_RANGE * fmean(moves)
    return _judge(centre, first, [replace(m, low=centre - half, high=centre + half) for m in rest])


def _known(months: Sequence[Month]) -> int:
    return sum(month.value is not None for month in months)


def _unjudged(before: tuple[Month, ...], rest: Sequence[Month]) -> Run:
    words = f"Too few months before ({_known(before)}) to set limits."
    return Run("", words, None, before, tuple(rest))


def _judge(centre: float, before: tuple[Month, ...], rest: Sequence[Month]) -> Run:
    sides = [_side(month, centre) for month in rest]
    runs = _runs(sides)
    found, outside, in_runs = [], [0, 0], [0, 0]
    for month, side, is_run in zip(rest, sides, runs, strict=True):
        is_out = _is_outside(month)
        if side and (is_out or is_run):
            outside[side > 0] += is_out
            in_runs[side > 0] += is_run
        found.append(replace(month, is_signal=bool(side) and (is_out or is_run)))
    if not _known(rest):
        return Run("", "No month to judge yet.", centre, before, tuple(found))
    down, up = outside[0] + in_runs[0], outside[1] + in_runs[1]
    if down and up:
        words = "Unsteady: months outside the limits on both sides."
        return Run("unsteady", words, centre, before, tuple(found))
    if not (down or up):
        return Run("no change", "Each month within its limits.", centre, before, tuple(found))
    higher = bool(up)
    words = _sentence(outside[higher], in_runs[higher], "over" if higher else "under")
    return Run("higher" if higher else "lower", words, centre, before, tuple(found))


def _sentence(n_outside: int, n_in_run: int, side: str) -> str:
    if n_in_run:
        return f"{n_in_run} months in a row {side} the centre of the year before."
    months = "1 month" if n_outside == 1 else f"{n_outside} months"
    return f"{months} {side} the limit from the year before."


def _side(month: Month, centre: float) -> int:
    if month.value is None or month.value == centre:
        return 0
    return 1 if month.value > centre else -1


def _is_outside(month: Month) -> bool:
    if month.value is None or month.low is None or month.high is None:
        return False
    return not month.low <= month.value <= month.high


def _runs(sides: Sequence[int]) -> list[bool]:
    """Which months stand in a run of eight or more; a month without a value breaks none."""
    found = [False] * len(sides)
    run: list[int] = []
    for place, side in enumerate([*sides, 9]):
        if side == 0:
            continue
        if run and sides[run[0]] != side:
            if len(run) >= RUN:
                for one in run:
                    found[one] = True
            run = []
        run.append(place)
    return found
