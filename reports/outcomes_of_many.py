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
    done = figures.completed(question.by)
    of_all = rows.aggregate(n=Count("pk"), done=figures.number(done))
    n, n_done = of_all["n"], of_all["done"] or 0
    tallies = tallies_of(rows, done)
    found = [
        _line(measure, n, n_done, tallies[measure.key], sees_names)
        for measure in MEASURES
        if measure.key in tallies and not measure.categories
    ]
    return found, n


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


def _line(measure: Measure, n: int, n_done: int, of: dict[bool, Tally], sees_names: bool) -> Line:
    finished = of.get(True, NOBODY)
    tally = finished + of.get(False, NOBODY)
    everybody = gain_of(measure, n, tally)
    reached = everybody.reached
    few_reached = reached is not None and not may_tell_share(reached.numerator, reached.denominator)
    return Line(
        measure,
        everybody,
        gain_of(measure, n_done, finished),
        own_error(tally),
        sees_names or _may_tell(everybody),
        sees_names or not few_reached,
        Proportion(reached.numerator, everybody.n) if reached is not None else None,
        sees_names,
    )


def _may_tell(gain: Gain) -> bool:
    return gain.n_pairs >= LEAST and may_tell_share(gain.n_pairs, gain.n)
