"""Numbers that are written in two units: stored in one, shown in both."""

from patients.calc.units import glucose_mmoll, lb_from_kg


class Glucose(float):
    """Glucose in mg/dL, and whether the meter showed mmol/L.

    A meter shows tenths of a mmol/L and published limits are rounded in each unit, so a reading
    is compared in the unit it was read in: 19.4 mmol/L is at "350 mg/dL (19.4 mmol/L)" although
    it converts to 349.5.
    """

    is_mmoll: bool

    def __new__(cls, mgdl: float, *, is_mmoll: bool = False) -> "Glucose":
        made = super().__new__(cls, mgdl)
        made.is_mmoll = is_mmoll
        return made

    @property
    def mmoll(self) -> float:
        """The same glucose as a meter shows it. [mmol/L], to one decimal"""
        return round(glucose_mmoll(self), 1)

    def __format__(self, spec: str) -> str:
        both = f"{float(self):.0f} mg/dL", f"{self.mmoll:.1f} mmol/L"
        shown, other = both[::-1] if self.is_mmoll else both
        return f"{shown} ({other})"


class Mass(float):
    """Mass in kg, written in pounds as well."""

    def __format__(self, spec: str) -> str:
        return f"{float(self):.1f} kg ({lb_from_kg(self):.1f} lb)"
