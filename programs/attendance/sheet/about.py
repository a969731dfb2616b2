"""What the sheet needs to know of the person."""

from dataclasses import dataclass

from patients.calc.measuring import LB, MMOL_L, STORED, Units
from programs.attendance.calc.sheet import Vitals


@dataclass(frozen=True)
class About:
    """What the sheet needs to know of the person: who is asked what, units, the last weight."""

    groups: frozenset[str] = frozenset()
    units: Units = STORED
    last_weight_kg: float | None = None
    last: Vitals | None = None  # before exercise, last time

    @property
    def shows_mmoll(self) -> bool:
        return self.units.glucose is MMOL_L

    @property
    def shows_pounds(self) -> bool:
        return self.units.weight is LB
