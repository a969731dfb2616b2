"""What changed between baseline, six weeks and exit, and on every day between.

When two results may not be compared is a project choice; sources of meaningful changes stand with
each measure, those of targets in ``assessments.calc.targets``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from assessments.calc.measure import Inputs, Measure
from assessments.calc.targets import Judgement, judge
from reports.calc.verdict import Change

STAGES = ("baseline", "six_weeks", "exit")
MOST_DIGITS = 3  # of a measure and of its change
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
    name: str = ""  # of its assessment, for the trend
    derived: Mapping[str, float] = field(default_factory=dict)
    corrected_from: tuple[str, ...] = ()  # what stood there before, oldest first
    reference: str = ""  # the equation or norm it was scored by


@dataclass(frozen=True)
class StageCell:
    """One stage of a row, in words."""

    name: str
    value: str  # "" when nothing was measured: missing is shown as missing
    point: Point | None
    change: Change | None
    change_words: str
    judged: tuple[Judgement, ...] = ()  # beside the targets


@dataclass(frozen=True)
class ComparisonRow:
    measure: Measure
    points: Mapping[str, Point]
    changes: Mapping[str, Change]
    trend: Sequence[Point] = ()  # every result, the oldest first
    own_targets: Mapping[str, float] = field(default_factory=dict)
    sex: str = ""
    digits: int = 0  # as many as it takes for values and changes to agree as shown

    @property
    def last_known(self) -> Point | None:
        """The newest result where the exit is missing: no exit value, and never put for one."""
        if "exit" in self.points or not self.trend:
            return None
        newest = self.trend[-1]
        return None if newest in self.points.values() else newest

    @property
    def scored_by(self) -> list[str]:
        """Every equation or norm among the results, the oldest first."""
        return list(dict.fromkeys(point.reference for point in self.trend if point.reference))

    @property
    def last_known_value(self) -> str:
        """It in words."""
        return self.shown(self.last_known)

    @property
    def targets(self) -> tuple[Judgement, ...]:
        """The targets of this measure, for the words that name them."""
        return self.judged(self.trend[-1]) if self.trend else ()

    @property
    def cells(self) -> list[StageCell]:
        """Baseline, six weeks and exit, each present or visibly missing."""
        return [self._cell(stage) for stage in STAGES]

    @property
    def baseline(self) -> StageCell:
        """The baseline in words, present or visibly missing."""
        return self._cell("baseline")

    @property
    def newest(self) -> StageCell | None:
        """The last stage after baseline that has a result, comparable or not."""
        reached = [stage for stage in STAGES[1:] if stage in self.points]
        return self._cell(reached[-1]) if reached else None

    def _cell(self, stage: str) -> StageCell:
        point, change = self.points.get(stage), self.changes.get(stage)
        judged = self.judged(point) if point is not None else ()
        words = self._signed(point, change)
        return StageCell(STAGE_NAMES[stage], self.shown(point), point, change, words, judged)

    def judged(self, point: Point) -> tuple[Judgement, ...]:
        """A result beside every target of its measure.

        Parameters
        ----------
        point : one result of this measure.

        Returns
        -------
        One judgement a target, of this sex or of everybody; empty when the measure has none.
        """
        found = judge(
            self.measure.key, point.value, point.inputs, point.derived, self.sex, self.own_targets
        )
        return tuple(found)

    def is_comparable(self, point: Point) -> bool:
        """Whether a result was measured and scored as the first of them all.

        Parameters
        ----------
        point : one result of the trend.

        Returns
        -------
        False for another equation or variant, a test ended early, or a result out of range.

        Raises
        ------
        IndexError : the trend is empty.
        """
        return not _caution(self.measure, self.trend[0], point)

    @property
    def trend_lines(self) -> list[tuple[Point, str, bool]]:
        """Every result as a line: the point, its value in words, whether it compares."""
        return [(point, self.shown(point), self.is_comparable(point)) for point in self.trend]

    def _signed(self, point: Point | None, change: Change | None) -> str:
        """The change with its sign, as the shown values differ; "" where nothing is compared."""
        base = self.points.get("baseline")
        if point is None or base is None or change is None or change.caution:
            return ""
        if self.measure.categories:
            return ""
        amount = Decimal(self.shown(point)) - Decimal(self.shown(base))
        return f"{amount:+}".replace("-", "\u2212") if amount else "0"

    def shown(self, point: Point | None) -> str:
        """The value in words.

        Parameters
        ----------
        point : one result, None when nothing was measured.

        Returns
        -------
        The value to the row's digits; "not able" without one, "" when nothing was measured.
        """
        return "" if point is None else self.measure.shown(point.value, self.digits)


def compare(
    measure: Measure,
    points: Mapping[str, Point],
    trend: Sequence[Point] = (),
    *,
    own_targets: Mapping[str, float] | None = None,
    sex: str = "",
) -> ComparisonRow:
    """Changes from baseline; none without a baseline, and none is ever carried forward.

    Parameters
    ----------
    measure : what was measured.
    points : results by stage: "baseline", "six_weeks", "exit"; a missing one is absent.
    trend : every result in the order of days, those of the stages among them.
    own_targets : the site's own amounts by key of the target.
    sex : "male", "female" or "" when not recorded; some targets need it.

    Returns
    -------
    The row, with a change [the measure's unit] for each later stage that has a value; its per
    cent [%] is None when the baseline is 0.
    """
    changes = {}
    digits = _digits(measure, points)
    base = points.get("baseline")
    for stage in STAGES[1:]:
        later = points.get(stage)
        if base is None or later is None or base.value is None or later.value is None:
            continue
        amount = measure.change(base.value, later.value)
        is_same = round(amount, digits) == 0
        changes[stage] = Change(
            amount,
            100 * amount / base.value if base.value else None,
            "same" if is_same else measure.word_for(amount, base.value, later.value),
            measure.is_meaningful(amount),
            measure.exceeds_error(amount),
            _caution(measure, base, later),
            error_population=measure.error_population,
            is_substantial=measure.is_substantial(amount),
        )
    return ComparisonRow(measure, points, changes, trend, own_targets or {}, sex, digits)


def _digits(measure: Measure, points: Mapping[str, Point]) -> int:
    """The fewest decimals with which baseline, result and change agree as shown.

    25.04 and 25.26 differ by 0.22: with one decimal that is 25.0, 25.3 and 0.2, with two it agrees.
    """
    base = points.get("baseline")
    if base is None or base.value is None or measure.categories:
        return measure.digits
    others = [p.value for s, p in points.items() if s != "baseline" and p.value is not None]
    for digits in range(measure.digits, MOST_DIGITS):
        if all(_agree(base.value, later, digits) for later in others):
            return digits
    return MOST_DIGITS


def _agree(base: float, later: float, digits: int) -> bool:
    shown = Decimal(f"{later:.{digits}f}") - Decimal(f"{base:.{digits}f}")
    return shown == Decimal(f"{later - base:.{digits}f}")


def _caution(measure: Measure, base: Point, later: Point) -> str:
    words = []
    if base.version != later.version:
        words.append("scored by different equations")
    if measure.variant_of(base.inputs) != measure.variant_of(later.inputs):
        words.append("not the same variant of the test")
    if measure.cut_short and any(
        p.inputs.get(measure.cut_short) is not None for p in (base, later)
    ):
        words.append("one of them was ended early")
    if not (base.is_in_range and later.is_in_range):
        words.append("outside the validated range or prorated")
    return "; ".join(words)
