"""What changed between baseline, six weeks and exit."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from assessments.calc.measure import Inputs, Measure

STAGES = ("baseline", "six_weeks", "exit")
STAGE_NAMES = {"baseline": "Baseline", "six_weeks": "Six weeks", "exit": "Exit"}


@dataclass(frozen=True)
class Point:
    """One standing result."""

    value: float | None
    performed_on: date
    version: str
    inputs: Inputs
    is_in_range: bool = True
    interpretation: str = ""


@dataclass(frozen=True)
class Change:
    """A difference from baseline and what may be said about it."""

    amount: float
    percent: float | None
    word: str
    is_meaningful: bool | None  # None where no meaningful change is agreed
    exceeds_error: bool | None = None  # None where no error of measuring is known
    caution: str = ""  # why the two results may not be compared


@dataclass(frozen=True)
class StageCell:
    """One stage of a row, in words."""

    name: str
    value: str  # "" when nothing was measured: missing is shown as missing
    point: Point | None
    change: Change | None
    change_words: str


@dataclass(frozen=True)
class ComparisonRow:
    measure: Measure
    points: Mapping[str, Point]
    changes: Mapping[str, Change]

    @property
    def cells(self) -> list[StageCell]:
        """Baseline, six weeks and exit, each present or visibly missing."""
        return [self._cell(stage) for stage in STAGES]

    @property
    def baseline(self) -> StageCell:
        return self._cell("baseline")

    @property
    def latest(self) -> StageCell | None:
        """The last stage after baseline that can be compared with it."""
        reached = [stage for stage in STAGES if stage in self.changes]
        return self._cell(reached[-1]) if reached else None

    def _cell(self, stage: str) -> StageCell:
        point, change = self.points.get(stage), self.changes.get(stage)
        return StageCell(
            STAGE_NAMES[stage], self._shown(point), point, change, self._signed(change)
        )

    def _signed(self, change: Change | None) -> str:
        """The change with its sign; what rounds to nothing has none."""
        if change is None:
            return ""
        amount = round(change.amount, self.measure.digits)
        words = f"{amount:+.{self.measure.digits}f}" if amount else "0"
        return words.replace("-", "\u2212")

    def _shown(self, point: Point | None) -> str:
        if point is None:
            return ""
        return "not able" if point.value is None else f"{point.value:.{self.measure.digits}f}"


def compare(measure: Measure, points: Mapping[str, Point]) -> ComparisonRow:
    """Changes from baseline; none without a baseline, and none is ever carried forward."""
    changes = {}
    base = points.get("baseline")
    for stage in STAGES[1:]:
        later = points.get(stage)
        if base is None or later is None or base.value is None or later.value is None:
            continue
        amount = measure.change(base.value, later.value)
        percent = 100 * amount / base.value if base.value else None
        changes[stage] = Change(
            amount,
            percent,
            measure.word_for(amount),
            measure.is_meaningful(amount),
            measure.exceeds_error(amount),
            _caution(measure, base, later),
        )
    return ComparisonRow(measure, points, changes)


def _caution(measure: Measure, base: Point, later: Point) -> str:
    words = []
    if base.version != later.version:
        words.append("scored by different equations")
    if measure.variant_of(base.inputs) != measure.variant_of(later.inputs):
        words.append("not the same variant of the test")
    if not (base.is_in_range and later.is_in_range):
        words.append("outside the validated range or prorated")
    return "; ".join(words)
