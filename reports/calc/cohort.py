"""What a group gained between baseline and exit, measure by measure; what is missing is counted.

Two results are compared as one person's are (``reports.calc.change``): another variant, equation or
a test ended early is no pair. Nothing is carried forward. Who counts, and which repeats show a
site's own error, is a project choice; the statistics have their sources in ``reports.calc.paired``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise
from operator import add

from assessments.calc.measure import Measure
from reports.calc.change import Point, compare
from reports.calc.paired import PairedChange, RepeatError, Sums, change_from, error_from, sums_of
from reports.calc.proportion import Proportion

REPEAT_DAYS = 7  # apart at most, so that nothing but measuring lies between


class Ends(IntEnum):
    """What there is of a measure at baseline and exit of one course."""

    NEITHER = 0
    NO_EXIT = 1
    NO_BASELINE = 2
    NOT_COMPARED = 3  # both are there, and were not measured alike or have no number
    PAIR = 4


@dataclass(frozen=True)
class CourseGain:
    """One measure of one course that has any result of it; units are those of the measure.

    Attributes
    ----------
    ends : what there is at baseline and exit.
    first, change : baseline, and exit minus baseline; None unless they are a pair.
    reached : better by a meaningful change.
    again : second minus first of a test repeated within a week, measured alike; None without.
    """

    ends: Ends
    first: float | None = None
    change: float | None = None
    reached: bool = False
    again: float | None = None


def course_gain(measure: Measure, results: Sequence[tuple[str, Point]]) -> CourseGain:
    """What one course gained by one measure.

    Parameters
    ----------
    measure : what was measured.
    results : kind of assessment and result, in the order of days; the last of a kind stands.

    Returns
    -------
    The gain, or which end is missing.
    """
    points = dict(results)
    first, last = points.get("baseline"), points.get("exit")
    again = _again(measure, [point for _, point in results])
    if first is None or last is None:
        missing = {(True, True): Ends.NEITHER, (False, True): Ends.NO_EXIT}
        return CourseGain(missing.get((first is None, last is None), Ends.NO_BASELINE), again=again)
    change = compare(measure, {"baseline": first, "exit": last}).changes.get("exit")
    if first.value is None or last.value is None or change is None or change.caution:
        return CourseGain(Ends.NOT_COMPARED, again=again)
    return CourseGain(
        Ends.PAIR,
        first.value,
        last.value - first.value,
        change.word == "better" and change.is_meaningful is True,
        again,
    )


def _again(measure: Measure, points: Sequence[Point]) -> float | None:
    """The difference of the first two results within a week, measured alike."""
    for first, second in pairwise(points):
        is_close = (second.performed_on - first.performed_on).days <= REPEAT_DAYS
        alike = measure.variant_of(first.inputs) == measure.variant_of(second.inputs)
        if is_close and alike and first.value is not None and second.value is not None:
            return second.value - first.value
    return None


@dataclass(frozen=True)
class Tally:
    """One measure of many courses, added up; units are those of the measure.

    Attributes
    ----------
    by_ends : courses by what there is of it. [courses]
    first, change : of the pairs.
    reached : pairs better by a meaningful change. [courses]
    again : differences of tests repeated within a week.
    """

    by_ends: tuple[int, ...]
    first: Sums
    change: Sums
    reached: int
    again: Sums

    def __add__(self, other: "Tally") -> "Tally":
        return Tally(
            tuple(map(add, self.by_ends, other.by_ends)),
            self.first + other.first,
            self.change + other.change,
            self.reached + other.reached,
            self.again + other.again,
        )


def tally_of(gains: Sequence[CourseGain]) -> Tally:
    """Add up what courses gained.

    Parameters
    ----------
    gains : one measure of each course.

    Returns
    -------
    Their sums.
    """
    return Tally(
        tuple(sum(one.ends is ends for one in gains) for ends in Ends),
        sums_of(one.first for one in gains if one.first is not None),
        sums_of(one.change for one in gains if one.change is not None),
        sum(one.reached for one in gains),
        sums_of(one.again for one in gains if one.again is not None),
    )


@dataclass(frozen=True)
class Gain:
    """One measure of some courses. [people]

    Attributes
    ----------
    n : courses in all, whatever was measured.
    no_baseline, no_exit, neither : which end is missing.
    not_compared : both ends are there, and were not measured alike or have no number.
    change : of the pairs; None without one. [unit of the measure]
    reached : better by a meaningful change, of the pairs; None where none is agreed.
    """

    n: int
    no_baseline: int
    no_exit: int
    neither: int
    not_compared: int
    change: PairedChange | None
    reached: Proportion | None

    @property
    def n_pairs(self) -> int:
        """People whose two results were compared."""
        return self.change.n if self.change else 0


NOBODY = tally_of(())


def gain_of(measure: Measure, n: int, tally: Tally) -> Gain:
    """What people gained by one measure.

    Parameters
    ----------
    measure : what was measured.
    n : courses in all, whatever was measured. [courses]
    tally : of those that have any result of it, added up.

    Returns
    -------
    The mean change of the pairs with how many reached a meaningful one, and who is missing.
    """
    _, no_exit, no_baseline, not_compared, pairs = tally.by_ends
    has_agreed = measure.meaningful_change is not None
    return Gain(
        n,
        no_baseline,
        no_exit,
        n - no_exit - no_baseline - not_compared - pairs,
        not_compared,
        change_from(tally.first, tally.change),
        Proportion(tally.reached, pairs) if has_agreed else None,
    )


def own_error(tally: Tally) -> RepeatError | None:
    """A site's own error from tests it repeated within a week, measured alike.

    Parameters
    ----------
    tally : what courses have of one measure, added up.

    Returns
    -------
    The error; None for fewer than two people tested twice.
    """
    return error_from(tally.again) if tally.again.n > 1 else None
