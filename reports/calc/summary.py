"""One person's outcomes as lines of a page: value, place on the scale, goals, what is missing.

The words are a project choice; the conclusion from a change is ``reports.calc.verdict``, a value
carried forward from one stage to another is none.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from assessments.calc.measure import Input, Measure
from reports.calc.change import STAGE_NAMES, STAGES, ComparisonRow, Point
from reports.calc.domains import DOMAIN_OF, DOMAINS
from reports.calc.scale import Placed, beyond, place
from reports.calc.verdict import Verdict

NOT_YET = "not yet"
PREDICTED = "percent_predicted"
# Their words tell how a test went or was estimated, not in which class its result lies.
WITHOUT_CLASSES = frozenset(
    {"one_repetition_maximum", "single_stage_treadmill", "cycle_stages", "incremental_shuttle_walk"}
)


@dataclass(frozen=True)
class Held:
    """What is known of one assessment of a course."""

    performed_on: date | None = None
    planned_on: date | None = None
    because: str = ""  # why it was not obtained
    tests: tuple[str, ...] = ()  # keys of what was chosen for it
    in_error: frozenset[str] = frozenset()  # keys of results marked entered in error


@dataclass(frozen=True)
class StageValue:
    """One stage of a line."""

    value: str  # "" where nothing was measured
    why: str = ""  # why there is none, or why it may not be compared
    is_missing: bool = False  # it should be there
    compares: bool = True
    corrected: str = ""  # what stood there before


@dataclass(frozen=True)
class Goal:
    """A target at the three stages: True met, False not met, None not measured."""

    words: str
    met: tuple[bool | None, ...]
    level: float | None  # on the measure's own axis, where the target is of its value

    @property
    def marks(self) -> str:
        """The three, as they are drawn."""
        return " ".join("·" if met is None else "◆" if met else "◇" for met in self.met)

    @property
    def told(self) -> str:
        """The three in words."""
        said = {True: "met", False: "not met", None: "not measured"}
        stages = zip(STAGES, self.met, strict=True)
        parts = [f"{STAGE_NAMES[stage].lower()} {said[met]}" for stage, met in stages]
        return f"{self.words}: {', '.join(parts)}"


@dataclass(frozen=True)
class OutcomeLine:
    """One measure of the page."""

    row: ComparisonRow
    placed: Placed | None
    stages: tuple[StageValue, ...]
    change: str  # with its sign, "" where nothing is compared
    predicted: str
    words: str
    notes: tuple[str, ...]
    is_alarm: bool  # worse by a meaningful amount
    goals: tuple[Goal, ...]
    verdict: Verdict | None
    word: str

    @property
    def measure(self) -> Measure:
        """What was measured."""
        return self.row.measure


Courses = Mapping[str, Held]


def reached(rows: Sequence[ComparisonRow], held: Courses, *, is_open: bool) -> str:
    """The stage that the page is about.

    Parameters
    ----------
    rows : every measure of the course.
    held : what is known of each stage.
    is_open : whether the course still goes on.

    Returns
    -------
    "exit" once it was performed or the course has ended, else "six_weeks".
    """
    was_done = any("exit" in row.points for row in rows) or held.get("exit", Held()).performed_on
    return "exit" if was_done or not is_open else "six_weeks"


def line_of(row: ComparisonRow, held: Courses, stage: str, *, is_open: bool) -> OutcomeLine:
    """One measure as the page shows it.

    Parameters
    ----------
    row : its comparison.
    held : what is known of each stage.
    stage : what the page is about, "six_weeks" or "exit".
    is_open : whether the course still goes on.

    Returns
    -------
    The line; whatever was not measured says so.
    """
    change = row.changes.get(stage)
    earlier = row.changes.get("six_weeks") if stage == "exit" else None
    verdict = change.verdict if change else None
    words = verdict.words if verdict else _no_verdict(row, stage)
    if verdict is None and earlier is not None:
        words = f"six weeks: {earlier.verdict.words}"
    notes = [f"six weeks {earlier.verdict.words}"] if change and earlier and earlier.caution else []
    word = change.word if change else ""
    placed = place(row)
    notes += [far] if (far := beyond(placed)) else []
    return OutcomeLine(
        row,
        placed,
        tuple(_stage(row, one, held.get(one), is_open=is_open) for one in STAGES),
        row.cells[STAGES.index(stage)].change_words,
        _predicted(row, stage),
        words,
        (*notes, *_crossed(row, stage)),
        bool(verdict and verdict.is_meaningful and word == "worse"),
        _goals(row),
        verdict,
        word,
    )


def _no_verdict(row: ComparisonRow, stage: str) -> str:
    if "baseline" not in row.points:
        return "no baseline: nothing to compare with"
    point = row.points.get(stage)
    if point is not None or row.points["baseline"].value is None:
        return "no number to compare"
    return "nothing to compare yet"


def _stage(row: ComparisonRow, stage: str, held: Held | None, *, is_open: bool) -> StageValue:
    point = row.points.get(stage)
    if point is None:
        why = why_missing(held, row.measure.key, is_open=is_open)
        return StageValue("", why, why != NOT_YET)
    change = row.changes.get(stage)
    corrected = ", ".join(point.corrected_from)
    if change is None or not change.caution:
        return StageValue(row.shown(point), corrected=corrected)
    why = _other_variant(row.measure, row.points["baseline"], point) or change.caution
    return StageValue(row.shown(point), why, compares=False, corrected=corrected)


def why_missing(held: Held | None, key: str, *, is_open: bool) -> str:
    """Why a stage has no result of a measure, as far as it is recorded.

    Parameters
    ----------
    held : what is known of the assessment, None without one.
    key : key of the measure.
    is_open : whether the course still goes on.

    Returns
    -------
    The reason; ``NOT_YET`` while the assessment can still come.
    """
    if held is not None and held.performed_on is not None:
        if key in held.in_error:
            return "entered in error"
        return "chosen, not recorded" if key in held.tests else "not done"
    if held is not None and held.because:
        return held.because
    return NOT_YET if is_open else "no assessment"


def _other_variant(measure: Measure, base: Point, later: Point) -> str:
    """What was different, with both values where they are numbers of the person's test."""
    named = {entry.key: entry for entry in measure.inputs}
    before, after = measure.variant_of(base.inputs), measure.variant_of(later.inputs)
    return "; ".join(
        f"{named[key].label.lower()} {_told(named[key], then)}, was {_told(named[key], first)}"
        for key, first, then in zip(measure.variant_inputs, before, after, strict=True)
        if first != then
    )


def _told(entry: Input, value: float | bool | None) -> str:
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    unit = entry.limit.unit if entry.limit else ""
    return dict(entry.options).get(int(value)) or f"{value:g} {unit}".strip()


def _predicted(row: ComparisonRow, stage: str) -> str:
    """Per cent of predicted at the start and then; an arrow only between what compares."""
    points = [row.points.get("baseline"), row.points.get(stage)]
    known = [p.derived.get(PREDICTED) for p in points if p is not None]
    shown = [f"{value:.0f}" for value in known if value is not None]
    change = row.changes.get(stage)
    return (" → " if change and not change.caution else ", ").join(shown)


def _crossed(row: ComparisonRow, stage: str) -> list[str]:
    """The class a result left and the one it entered, such as of a walking speed."""
    change, measure = row.changes.get(stage), row.measure
    if change is None or change.caution or measure.categories or measure.key in WITHOUT_CLASSES:
        return []
    before, after = (row.points[one].interpretation.split("; ") for one in ("baseline", stage))
    left = [part for part in before if part and part not in after]
    entered = [part for part in after if part and part not in before]
    return [f"{'; '.join(left)} → {'; '.join(entered)}"] if left and entered else []


def _goals(row: ComparisonRow) -> tuple[Goal, ...]:
    """Each target of the measure at the three stages; none where nothing was ever compared."""
    found = []
    for n, judgement in enumerate(row.targets):
        target = judgement.target
        at = [row.points.get(stage) for stage in STAGES]
        met = tuple(None if point is None else row.judged(point)[n].is_met for point in at)
        is_own = target.read.__name__ == "the_value" and not row.measure.categories
        level = judgement.amount if is_own else None
        found.append(Goal(target.words(judgement.amount), met, level))
    return tuple(found)


def grouped(lines: Sequence[OutcomeLine]) -> list[tuple[str, list[OutcomeLine]]]:
    """The lines by domain, in the order of the domains.

    Parameters
    ----------
    lines : of one page.

    Returns
    -------
    Name of the domain and its lines; domains without a line are left out.
    """
    found: dict[str, list[OutcomeLine]] = {name: [] for name, _ in DOMAINS}
    for line in lines:
        found[DOMAIN_OF[line.measure.key]].append(line)
    return [(name, group) for name, group in found.items() if group]
