"""Which part of the work a class is in: people check in, exercise, finish.

The clock of the class chooses; where nobody has work in that part, the part that has some. When a
part begins is a project choice.
"""

from collections.abc import Mapping
from enum import StrEnum

CHECK_IN_UNTIL_MINUTES = 10  # after the hour of the class
FINISH_FROM_MINUTES = 12  # before its end


class Stage(StrEnum):
    CHECK_IN = "checkin"
    EXERCISE = "exercise"
    FINISH = "finish"

    @property
    def label(self) -> str:
        """What the switch of a class calls it."""
        return LABELS[self]


LABELS = {Stage.CHECK_IN: "Check in", Stage.EXERCISE: "Exercise", Stage.FINISH: "Finish"}


def stage_of(state: str) -> Stage | None:
    """The part of the work a person is in.

    Parameters
    ----------
    state : of the visit, as stored: "expected", "arrived", "exercising", or one that ended.

    Returns
    -------
    The part; None for somebody with nothing left to do.
    """
    return {
        "expected": Stage.CHECK_IN,
        "arrived": Stage.CHECK_IN,
        "exercising": Stage.EXERCISE,
    }.get(state)


def stage_of_class(since_start: int, lasts: int, waiting: Mapping[Stage, int]) -> Stage:
    """The part of the work that a class is shown in.

    Parameters
    ----------
    since_start : since the hour of the class, negative before it. [min]
    lasts : how long the class lasts. [min], above 0
    waiting : how many people have work in a part; somebody exercising has work in the last two.

    Returns
    -------
    The part of the clock when somebody has work in it, else the next one that has, from the first
    on; the part of the clock when nobody has any.
    """
    if since_start < CHECK_IN_UNTIL_MINUTES:
        clock = Stage.CHECK_IN
    elif since_start < lasts - FINISH_FROM_MINUTES:
        clock = Stage.EXERCISE
    else:
        clock = Stage.FINISH
    for stage in (clock, Stage.EXERCISE, Stage.CHECK_IN):
        if waiting.get(stage, 0):
            return stage
    return clock
