"""Goals that a result meets by itself, each with the component it belongs to (a project choice).

Targets with a number of their own are those of ``assessments/calc/targets.py``, sources there. A
goal without one starts from the person's own first result and the change that matters to patients
(each measure's own source), or is set by the team.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from assessments.calc.anxiety import GAD7
from assessments.calc.diet import DIET
from assessments.calc.measure import Inputs, Measure
from assessments.calc.mood import PHQ9
from assessments.calc.sit_to_stand import THIRTY_SECONDS
from assessments.calc.six_minute_walk import SIX_MINUTE_WALK
from assessments.calc.targets import TARGETS, Derived, Read, Side, Target, the_value
from patients.calc.days import in_words
from patients.calc.limits import WEIGHT_KG, Limit

BODY_WEIGHT = "body_weight"  # weighings of any kind stand for a measure
COMPONENT_OF_TARGET = {
    "systolic": "blood_pressure",
    "diastolic": "blood_pressure",
    "ldl": "lipids",
    "hba1c": "diabetes",
    "waist_men": "weight",
    "waist_women": "weight",
    "activity": "activity",
    "tobacco": "tobacco",
    "adherence": "medicines",
}


@dataclass(frozen=True)
class Goal:
    """``usual`` is the amount to start from; ``adds`` is added to the person's first result."""

    key: str
    component: str
    name: str
    unit: str
    measure: str
    read: Read
    side: Side
    bounds: Limit
    source: str
    usual: float | None = None
    adds: float | None = None
    sex: str = ""
    said: str = ""

    @property
    def label(self) -> str:
        """The heading of its box, without the unit."""
        words = self.said or f"{self.name}, {self.side.value}"
        return words[0].upper() + words[1:]

    def words(self, amount: float) -> str:
        """The goal in words.

        Parameters
        ----------
        amount : what is aimed at. [unit of the goal]

        Returns
        -------
        Such as "systolic under 130 mmHg"; a wording of its own where it has one.
        """
        return self.said or f"{self.name} {self.side.value} {amount:g} {self.unit}".strip()


def _of_target(target: Target) -> Goal:
    return Goal(
        target.key, COMPONENT_OF_TARGET[target.key], target.name, target.unit, target.measure,
        target.read, target.side, target.bounds, target.source, target.amount,
        sex=target.sex, said=target.said,
    )  # fmt: skip


def _further(measure: Measure, key: str, name: str, high: float) -> Goal:
    """Of exercise: as much more than at the start as matters to patients."""
    change = measure.meaningful_change
    bounds = Limit(f"Goal for {name}", measure.unit, 1, high)
    return Goal(
        key, "exercise", name, measure.unit, measure.key, the_value, Side.AT_LEAST, bounds,
        change.source if change else "set by the team", adds=change.amount if change else None,
    )  # fmt: skip


GOALS: tuple[Goal, ...] = (
    _further(SIX_MINUTE_WALK, "walk", "six-minute walk", 1000),
    _further(THIRTY_SECONDS, "chair", "30-second chair stand", 60),
    *map(_of_target, TARGETS),
    Goal("weight", "weight", "body weight", "kg", BODY_WEIGHT, the_value, Side.AT_MOST,
         WEIGHT_KG, "set by the team"),
    Goal("diet", "nutrition", "diet score", "points", DIET.key, the_value, Side.AT_LEAST,
         Limit("Goal for the diet score", "points", 1, 14), "set by the team"),
    Goal("mood", "psychosocial", "PHQ-9", "points", PHQ9.key, the_value, Side.UNDER,
         Limit("Goal for PHQ-9", "points", 1, 27), "moderate from 10: Kroenke 2001", 10),
    Goal("anxiety", "psychosocial", "GAD-7", "points", GAD7.key, the_value, Side.UNDER,
         Limit("Goal for GAD-7", "points", 1, 21), "moderate from 10: Spitzer 2006", 10),
)  # fmt: skip
GOAL_OF = {goal.key: goal for goal in GOALS}


def goals_of(component: str, sex: str) -> list[Goal]:
    """The measured goals of a component for somebody.

    Parameters
    ----------
    component : its key.
    sex : "male", "female" or "" when not recorded; goals of a sex need it.

    Returns
    -------
    Goals in order.
    """
    return [goal for goal in GOALS if goal.component == component and goal.sex in {"", sex}]


@dataclass(frozen=True)
class Found:
    """One result of a measure on a day."""

    on: date
    value: float | None
    inputs: Inputs
    derived: Derived


def proposed(goal: Goal, own: Mapping[str, float], results: Sequence[Found]) -> float | None:
    """The amount a plan starts from.

    Parameters
    ----------
    goal : any goal.
    own : the site's own targets by key, in place of the usual amount.
    results : of its measure, the earliest first.

    Returns
    -------
    The amount [unit of the goal], None where the record gives none: it is the team's to set.
    """
    if goal.usual is not None:
        return own.get(goal.key, goal.usual)
    known = [v for v in (goal.read(r.value, r.inputs, r.derived) for r in results) if v is not None]
    if goal.adds is None or not known:
        return None
    amount = known[0] + goal.adds
    return amount if goal.bounds.low <= amount <= goal.bounds.high else None


@dataclass(frozen=True)
class Standing:
    """The newest result beside a goal. ``is_met`` is None while there is none."""

    goal: Goal
    amount: float
    is_met: bool | None = None
    value: float | None = None
    on: date | None = None
    met_since: date | None = None

    @property
    def words(self) -> str:
        """How the goal stands, with its sign."""
        aim = self.goal.words(self.amount)
        if self.on is None or self.value is None:
            return f"no result yet: {aim}"
        told = "" if self.goal.said else f": {self.value:.4g} {self.goal.unit}".rstrip()
        if self.met_since is not None:
            return f"◆ met since {in_words(self.met_since)}, {aim}{told} on {in_words(self.on)}"
        return f"◇ not met, {aim}{told} on {in_words(self.on)}"


def standing_of(goal: Goal, amount: float, results: Sequence[Found]) -> Standing:
    """How a goal stands after its results.

    Parameters
    ----------
    goal : any goal.
    amount : what is aimed at. [unit of the goal]
    results : of its measure, the earliest first; one that tells nothing of the goal is passed over.

    Returns
    -------
    The newest result, whether it meets the goal, and since which result all have met it.
    """
    told = [(r.on, goal.read(r.value, r.inputs, r.derived)) for r in results]
    known = [(on, value) for on, value in told if value is not None]
    if not known:
        return Standing(goal, amount)
    since = None
    for on, value in known:
        since = (since or on) if goal.side.holds(value, amount) else None
    on, value = known[-1]
    return Standing(goal, amount, since is not None, value, on, since)
