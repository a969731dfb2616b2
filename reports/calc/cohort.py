"""What a group gained between baseline and exit, measure by measure; what is missing is counted.

Two results are compared as one person's are (``reports.calc.change``): another variant, equation or
a test ended early is no pair. Nothing is carried forward. Who counts, and which repeats show a
site's own error, is a project choice; the statistics have their sources in ``reports.calc.paired``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from assessments.calc.measure import Measure
from reports.calc.change import Point, compare
from reports.calc.paired import PairedChange, RepeatError, paired_change, repeat_error
from reports.calc.proportion import Proportion

REPEAT_DAYS = 7  # apart at most, so that nothing but measuring lies between


@dataclass(frozen=True)
class Ends:
    """Baseline and exit of one course that has ended; None where there is no result."""

    baseline: Point | None
    exit: Point | None
    has_finished: bool = False  # by the definition asked for


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


def gain_of(measure: Measure, courses: Sequence[Ends]) -> Gain:
    """What people gained by one measure.

    Parameters
    ----------
    measure : what was measured.
    courses : both ends of each course.

    Returns
    -------
    The mean change of the pairs with how many reached a meaningful one, and who is missing.
    """
    n_both, reached = 0, 0
    pairs: list[tuple[float, float]] = []
    for course in courses:
        first, last = course.baseline, course.exit
        if first is None or last is None:
            continue
        n_both += 1
        change = compare(measure, {"baseline": first, "exit": last}).changes.get("exit")
        if first.value is None or last.value is None or change is None or change.caution:
            continue
        pairs.append((first.value, last.value))
        reached += change.word == "better" and change.is_meaningful is True
    has_agreed = measure.meaningful_change is not None
    return Gain(
        len(courses),
        sum(c.baseline is None and c.exit is not None for c in courses),
        sum(c.baseline is not None and c.exit is None for c in courses),
        sum(c.baseline is None and c.exit is None for c in courses),
        n_both - len(pairs),
        paired_change(pairs),
        Proportion(reached, len(pairs)) if has_agreed else None,
    )


def own_error(measure: Measure, people: Sequence[Sequence[Point]]) -> RepeatError | None:
    """A site's own error from tests it repeated within a week, measured alike.

    Parameters
    ----------
    measure : what was measured.
    people : the results of each course, in the order of days.

    Returns
    -------
    The error; None for fewer than two people tested twice.
    """
    repeats = [pair for points in people if (pair := _repeat(measure, points))]
    return repeat_error(repeats) if len(repeats) > 1 else None


def _repeat(measure: Measure, points: Sequence[Point]) -> tuple[float, float] | None:
    """The first two results within a week, measured alike."""
    for first, second in pairwise(points):
        is_close = (second.performed_on - first.performed_on).days <= REPEAT_DAYS
        alike = measure.variant_of(first.inputs) == measure.variant_of(second.inputs)
        if is_close and alike and first.value is not None and second.value is not None:
            return first.value, second.value
    return None
