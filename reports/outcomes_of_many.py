"""Cohort outcomes: what people gained from baseline to exit, once their course has ended."""

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from django.db.models import Case, Count, F, Q, Sum, Value, When

from assessments.calc.catalogue import MEASURES
from assessments.calc.measure import Measure
from reports import figures
from reports.asking import Question
from reports.calc.cohort import NOBODY, Ends, Gain, Tally, gain_of, own_error
from reports.calc.paired import RepeatError, Sums
from reports.calc.proportion import Proportion
from reports.calc.small_cells import LEAST, may_tell_share, told
from reports.counting import count


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
    """Every measure that somebody has, and how many courses have ended.

    Three queries, once every course asked about is counted.
    """
    rows = figures.referred(question.asked).filter(figures.ENDED)
    count(rows)
    done = figures.number(figures.completed(question.by))
    n = rows.aggregate(n=Count("pk"), done=done)
    n_all, n_done = n["n"], n["done"] or 0
    tallies = tallies_of(rows, figures.completed(question.by))
    found = []
    for measure in MEASURES:
        of = tallies.get(measure.key)
        if of and not measure.categories:
            finished, others = of.get(True, NOBODY), of.get(False, NOBODY)
            everybody = gain_of(measure, n_all, finished + others)
            found.append(
                _line(measure, everybody, gain_of(measure, n_done, finished), finished + others,
                      sees_names)
            )  # fmt: skip
    return found, n_all


def tallies_of(rows: Any, done: Q, **of: Any) -> dict[str, dict[bool, Tally]]:
    """What was gained by each measure, of those who finished and of the others: one query.

    ``of`` narrows the gains, such as ``gains__key``.
    """
    sums: dict[str, Any] = {f"ends_{ends}": figures.number(Q(gains__ends=ends)) for ends in Ends}
    sums["reached"] = figures.number(Q(gains__reached=True))
    for name in ("first", "change", "again"):
        value = F(f"gains__{name}")
        sums |= {f"n_{name}": Count(value), f"sum_{name}": Sum(value)}
        sums[f"squares_{name}"] = Sum(value * value)
    told = rows.filter(gains__isnull=False, **of).annotate(
        done=Case(When(done, then=Value(1)), default=Value(0))
    )
    found: dict[str, dict[bool, Tally]] = defaultdict(dict)
    for row in told.values("gains__key", "done").annotate(**sums):
        found[row["gains__key"]][bool(row["done"])] = Tally(
            tuple(row[f"ends_{ends}"] for ends in Ends),
            _sums(row, "first"),
            _sums(row, "change"),
            row["reached"],
            _sums(row, "again"),
        )
    return found


def _sums(row: dict[str, Any], name: str) -> Sums:
    return Sums(row[f"n_{name}"], row[f"sum_{name}"] or 0.0, row[f"squares_{name}"] or 0.0)


def _line(
    measure: Measure, everybody: Gain, finished: Gain, tally: Tally, sees_names: bool
) -> Line:
    reached = everybody.reached
    few_reached = reached is not None and not may_tell_share(reached.numerator, reached.denominator)
    return Line(
        measure,
        everybody,
        finished,
        own_error(tally),
        sees_names or _may_tell(everybody),
        sees_names or not few_reached,
        Proportion(reached.numerator, everybody.n) if reached is not None else None,
        sees_names,
    )


def _may_tell(gain: Gain) -> bool:
    return gain.n_pairs >= LEAST and may_tell_share(gain.n_pairs, gain.n)
