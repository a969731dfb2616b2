"""What the sheet needs to know of the person."""

from dataclasses import dataclass

from programs.attendance.calc.sheet import Vitals


@dataclass(frozen=True)
class About:
    """What the sheet needs to know of the person: who is asked what, units, the last weight."""

    groups: frozenset[str] = frozenset()
    shows_mmoll: bool = False
    shows_pounds: bool = False
    last_weight_kg: float | None = None
    last: Vitals | None = None  # before exercise, last time
