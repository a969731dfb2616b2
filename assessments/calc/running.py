"""Tests that a tablet times or counts: what is counted for how long, which trials are timed.

Half a minute of stands and ten seconds a stance: CDC STEADI. Two minutes of steps: Rikli & Jones.
One leg: Bohannon 2006, three trials; a stance is stopped at the limit of its box.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from assessments.calc.balance import FOUR_STANCES, ONE_LEG
from assessments.calc.gait_speed import FAST_GAIT, GAIT_SPEED
from assessments.calc.measure import Measure
from assessments.calc.sit_to_stand import FIVE_TIMES, THIRTY_SECONDS
from assessments.calc.stairs import STAIR_CLIMB
from assessments.calc.step_test import STEP_TEST
from assessments.calc.up_and_go import UP_AND_GO
from patients.calc.limits import SINGLE_LEG_S, STANCE_STAGE_S


def labels_of(measure: Measure, keys: Iterable[str]) -> list[tuple[str, str]]:
    """Inputs with their labels, in the order asked for.

    Parameters
    ----------
    measure : whose inputs.
    keys : keys of inputs of the measure.

    Returns
    -------
    Pairs of key and label.

    Raises
    ------
    KeyError : a key that is no input of the measure.

    References
    ----------
    project choice
    """
    labels = {entry.key: entry.label for entry in measure.inputs}
    return [(key, labels[key]) for key in keys]


@dataclass(frozen=True)
class Counted:
    """Taps counted until the time is over."""

    measure: Measure
    seconds: int
    into: str  # the input that takes the count
    tap: str  # what one tap is


@dataclass(frozen=True)
class Timed:
    """Trials timed one after another; ``stops_at`` ends one by itself. [s]"""

    measure: Measure
    trials: tuple[str, ...]  # the inputs that take the times
    stops_at: float | None = None
    digits: int = 1
    beside: tuple[str, ...] = ()  # inputs typed once for all trials

    @property
    def labelled(self) -> list[tuple[str, str]]:
        """Each trial's input and its label."""
        return labels_of(self.measure, self.trials)


COUNTED = (
    Counted(THIRTY_SECONDS, 30, "stands", "Full stand"),
    Counted(STEP_TEST, 120, "steps", "Right knee up"),
)
STANCES = tuple(entry.key for entry in FOUR_STANCES.inputs)
TIMED = (
    Timed(FIVE_TIMES, ("seconds",)),
    Timed(GAIT_SPEED, ("first_s", "second_s"), digits=2, beside=("course_m",)),
    Timed(FAST_GAIT, ("first_s", "second_s"), digits=2, beside=("course_m",)),
    Timed(UP_AND_GO, ("seconds",)),
    Timed(STAIR_CLIMB, ("ascent_s", "descent_s")),
    Timed(FOUR_STANCES, STANCES, stops_at=STANCE_STAGE_S.high),
    Timed(ONE_LEG, ("first_s", "second_s", "third_s"), stops_at=SINGLE_LEG_S.high),
)
COUNTED_BY_KEY = {test.measure.key: test for test in COUNTED}
TIMED_BY_KEY = {test.measure.key: test for test in TIMED}
