"""Cohort outcomes: what people gained from baseline to exit, once their course has ended."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from assessments.calc.catalogue import MEASURES
from assessments.calc.measure import Measure
from assessments.models import Assessment, Measurement
from reports import figures
from reports.asking import Question
from reports.calc.change import Point
from reports.calc.cohort import Ends, Gain, gain_of, own_error
from reports.calc.paired import RepeatError
from reports.calc.proportion import Proportion
from reports.calc.small_cells import LEAST, may_tell_share, told

Kind = Assessment.Kind
_OF_A_RESULT = (
    "assessment__enrolment", "key", "assessment__kind", "assessment__performed_on", "value",
    "formula_version", "inputs", "is_in_range",
)  # fmt: skip


@dataclass(frozen=True)
class GainWords:
    """A mean change as a page prints it: with its sign, in the measure's own digits."""

    mean: str
    interval: str
    effect: str


def words_of(measure: Measure, gain: Gain) -> GainWords | None:
    """The change in words; None without a pair."""
    change = gain.change
    if change is None:
        return None

    def signed(value: float | None) -> str:
        return "–" if value is None else f"{value:+.{measure.digits + 1}f}".replace("-", "\u2212")

    interval = "" if change.low is None else f"{signed(change.low)} to {signed(change.high)}"
    effect = "–" if change.effect is None else f"{change.effect:.2f}".replace("-", "\u2212")
    return GainWords(signed(change.mean), interval, effect)


@dataclass(frozen=True)
class Line:
    """One measure: everybody, those who finished, and the site's own error beside the published."""

    measure: Measure
    everybody: Gain
    finished: Gain
    error: RepeatError | None
    is_told: bool  # else so few people that they would be known
    reached_is_told: bool  # else so few reached a meaningful change, or did not
    reached_of_all: Proportion | None  # who has no pair counts as not having reached it

    sees_names: bool = True

    @property
    def finished_is_told(self) -> bool:
        """Those who finished, and the others, are not so few that they would be known."""
        return self.sees_names or may_tell_share(self.finished.n_pairs, self.everybody.n_pairs)

    @property
    def missing(self) -> str:
        """Who has no pair, and why; only how many where a reason has few people."""
        gain = self.everybody
        cells = {
            "no exit": gain.no_exit,
            "no baseline": gain.no_baseline,
            "neither": gain.neither,
            "not measured alike": gain.not_compared,
        }
        if self.sees_names or all(told([gain.n_pairs, *cells.values()])):
            return ", ".join(f"{words} {n}" for words, n in cells.items() if n) or "nobody"
        return f"{gain.n - gain.n_pairs} without a pair"

    @property
    def words(self) -> GainWords | None:
        return words_of(self.measure, self.everybody)

    @property
    def finished_words(self) -> GainWords | None:
        return words_of(self.measure, self.finished)


def lines_of(question: Question, *, sees_names: bool) -> tuple[list[Line], int]:
    """Every measure that somebody has, and how many courses have ended: two queries."""
    rows = figures.referred(question.asked).filter(figures.ENDED)
    done = figures.completed(question.by)
    courses = dict(
        rows.annotate(done=figures.number(done)).values_list("referral__enrolment", "done")
    )
    results = _results(list(courses))
    found = []
    for measure in MEASURES:
        of = results.get(measure.key)
        if of and not measure.categories:
            found.append(_line(measure, courses, of, sees_names))
    return found, len(courses)


Results = dict[int, list[tuple[str, Point]]]  # of a course, in the order of days


def _results(courses: list[int]) -> dict[str, Results]:
    found: dict[str, Results] = defaultdict(lambda: defaultdict(list))
    standing = Measurement.objects.standing().filter(
        assessment__enrolment__pk__listed=courses,
        assessment__performed_on__isnull=False,
    )
    told = standing.order_by("assessment__performed_on", "assessment").values_list(*_OF_A_RESULT)
    for course, key, kind, on, value, version, inputs, is_in_range in told:
        found[key][course].append((kind, Point(value, on, version, inputs, is_in_range)))
    return found


def _line(measure: Measure, courses: dict[int, int], results: Results, sees_names: bool) -> Line:
    ends = [_ends(results.get(course, []), bool(done)) for course, done in courses.items()]
    everybody = gain_of(measure, ends)
    error = own_error(measure, [[point for _, point in of] for of in results.values()])
    reached = everybody.reached
    few_reached = reached is not None and not may_tell_share(reached.numerator, reached.denominator)
    return Line(
        measure,
        everybody,
        gain_of(measure, [one for one in ends if one.has_finished]),
        error,
        sees_names or _may_tell(everybody),
        sees_names or not few_reached,
        Proportion(reached.numerator, len(ends)) if reached is not None else None,
        sees_names,
    )


def _ends(results: Sequence[tuple[str, Point]], has_finished: bool) -> Ends:
    by_kind = dict(results)
    return Ends(by_kind.get(Kind.BASELINE), by_kind.get(Kind.EXIT), has_finished)


def _may_tell(gain: Gain) -> bool:
    return gain.n_pairs >= LEAST and may_tell_share(gain.n_pairs, gain.n)
