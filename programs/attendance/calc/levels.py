"""How bad, when, and what a rule compares: the words all rules share."""

import operator
from collections.abc import Callable
from enum import IntEnum, StrEnum


class Level(IntEnum):
    NOTE = 1
    CAUTION = 2
    HOLD = 3
    STOP = 4

    @property
    def word(self) -> str:
        """The level as keys and pages write it, in lower case."""
        return self.name.lower()


class Phase(StrEnum):
    BEFORE = "before"
    DURING = "during"
    AFTER = "after"


OPERATORS: dict[str, Callable[[float, float], bool]] = {
    ">": operator.gt,
    ">=": operator.ge,
    "<": operator.lt,
}
