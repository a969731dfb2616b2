"""The units somebody reads and types in: one shape for all quantities that are written in two.

A quantity is stored in the first of its units. Which one a page shows is somebody's own choice; a
unit typed behind a number always wins over it. How the units are written:
common practice, no source; their factors stand in ``patients/calc/units.py``.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from patients.calc import units
from patients.calc.limits import (
    GLUCOSE_MGDL,
    HEIGHT_CM,
    LOAD_KG,
    TEMPERATURE_C,
    TREADMILL_KMH,
    WEIGHT_KG,
    Limit,
)

SPACES = re.compile(r"[\s\u00a0\u2007\u2009\u202f]+")
NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)"
_WITH_UNIT = re.compile(rf"({NUMBER})(?: (\d+)/(\d+))? ?([^\d\s+.-].*)?")
_FEET = re.compile(
    r"(\d+(?:\.\d+)?) ?(?:'|ft\.?|feet|foot)(?: ?(\d+(?:\.\d+)?)?(?: ?(\d+)/(\d+))?"
    r" ?(?:\"|''|in\.?|inch|inches)?)?"
)
_BARE_FEET = re.compile(r"(\d) (\d{1,2}(?:\.\d+)?)(?: (\d+)/(\d+))?")
_MARKS = str.maketrans({"’": "'", "′": "'", "‘": "'", "”": '"', "″": '"', "“": '"', ",": "."})


class NotRead(ValueError):
    """What was typed is no number of this quantity."""


@dataclass(frozen=True, eq=False)
class Unit:
    """A way to write a quantity: how to get to the stored unit and back, and its other names."""

    name: str
    to_stored: Callable[[float], float]
    from_stored: Callable[[float], float]
    digits: int  # decimals of a number that does not come out even
    also: tuple[str, ...] = ()
    is_feet: bool = False

    def __str__(self) -> str:
        return self.name

    def text(self, stored: float) -> str:
        """A stored value as a box shows it.

        Parameters
        ----------
        stored : the value. [the quantity's first unit]

        Returns
        -------
        The number without its unit, in full up to two decimals, else to ``digits``; feet and
        inches with their marks.
        """
        number = self.from_stored(stored)
        if not self.is_feet:
            return _plain(number, self.digits)
        inches = float(_plain(number, self.digits))  # rounded first: never 5'12"
        return f"{inches // 12:.0f}'{_plain(inches % 12, self.digits)}\""

    def told(self, stored: float) -> str:
        """A stored value in words.

        Parameters
        ----------
        stored : the value. [the quantity's first unit]

        Returns
        -------
        ``text`` with its unit.
        """
        return self.text(stored) if self.is_feet else f"{self.text(stored)} {self.name}"


def _plain(number: float, digits: int) -> str:
    even = round(number, 2)
    shown = f"{even:.2f}" if abs(number - even) < 1e-9 else f"{round(number, digits):.{digits}f}"
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


MG_DL = Unit("mg/dL", float, float, 0, ("mg", "mg/100ml"))
MMOL_L = Unit("mmol/L", units.glucose_mgdl, units.glucose_mmoll, 1, ("mmol", "mmol/l"))
KG = Unit("kg", float, float, 1, ("kgs", "kilo", "kilos"))
LB = Unit("lb", units.kg_from_lb, units.lb_from_kg, 1, ("lbs", "#", "pound", "pounds"))
CM = Unit("cm", float, float, 1)
M = Unit("m", lambda metres: metres * 100, lambda cm: cm / 100, 3)
INCH = Unit("in", units.cm_from_inches, units.inches_from_cm, 1, ("inch", "inches", '"', "''"))
FEET = Unit("ft in", units.cm_from_inches, units.inches_from_cm, 1, is_feet=True)
KMH = Unit("km/h", float, float, 2, ("kmh", "kph", "kmph"))
MPH = Unit("mph", units.kmh_from_mph, units.mph_from_kmh, 2, ("mi/h",))
CELSIUS = Unit("°C", float, float, 1, ("c", "ºc"))
FAHRENHEIT = Unit(
    "°F", units.celsius_from_fahrenheit, units.fahrenheit_from_celsius, 1, ("f", "ºf")
)


class Units(NamedTuple):
    """What somebody reads and types in, one unit for each quantity."""

    glucose: Unit = MG_DL
    weight: Unit = KG
    height: Unit = CM
    speed: Unit = KMH
    temperature: Unit = CELSIUS


STORED = Units()


@dataclass(frozen=True, eq=False)
class Quantity:
    """Something written in one of two units; stored in the first."""

    key: str  # its field in ``Units``
    name: str
    first: Unit
    second: Unit
    switch: str  # the stored answer whether somebody reads the second
    more: tuple[Unit, ...] = ()  # read when named, never shown

    def unit(self, name: str) -> Unit:
        """One of the two units by its name.

        Parameters
        ----------
        name : as ``Unit.name``.

        Returns
        -------
        The second unit when it is named, else the first: that of a form that names none.
        """
        return self.second if name == self.second.name else self.first

    def named(self, word: str) -> Unit | None:
        """The unit a number was typed with.

        Parameters
        ----------
        word : what stands behind the number.

        Returns
        -------
        Its unit, None for a word that is none of this quantity.
        """
        told = word.strip().rstrip(".").casefold().replace(" ", "")
        for unit in (self.first, self.second, *self.more):
            if told in (unit.name.casefold().replace(" ", ""), *unit.also):
                return unit
        return None


GLUCOSE = Quantity("glucose", "Glucose", MG_DL, MMOL_L, "shows_mmoll")
WEIGHT = Quantity("weight", "Weight", KG, LB, "shows_pounds")
HEIGHT = Quantity("height", "Height", CM, FEET, "shows_feet", (INCH, M))
SPEED = Quantity("speed", "Speed", KMH, MPH, "shows_mph")
TEMPERATURE = Quantity("temperature", "Temperature", CELSIUS, FAHRENHEIT, "shows_fahrenheit")
QUANTITIES = (GLUCOSE, WEIGHT, HEIGHT, SPEED, TEMPERATURE)
BY_KEY = {quantity.key: quantity for quantity in QUANTITIES}
QUANTITY_OF: Mapping[Limit, Quantity] = {
    GLUCOSE_MGDL: GLUCOSE,
    WEIGHT_KG: WEIGHT,
    LOAD_KG: WEIGHT,
    HEIGHT_CM: HEIGHT,
    TREADMILL_KMH: SPEED,
    TEMPERATURE_C: TEMPERATURE,
}


def units_from(shows: Mapping[str, bool]) -> Units:
    """The units of somebody.

    Parameters
    ----------
    shows : whether the second unit is read, by ``Quantity.switch``; not in it: the first.

    Returns
    -------
    One unit for each quantity.
    """
    return Units(*[q.second if shows.get(q.switch) else q.first for q in QUANTITIES])


class Read(NamedTuple):
    """What was typed."""

    stored: float  # [the quantity's first unit]
    number: float  # as typed [unit]; feet and inches as inches
    unit: Unit
    is_told: bool  # the unit was typed with it


def read(quantity: Quantity, text: str, unit: Unit) -> Read:
    """A number typed with or without its unit.

    Parameters
    ----------
    quantity : what is measured.
    text : such as "182", "182 lb", "82,5 kg", "182#", "5'10 1/2\\"" or "5 ft 10 in"; spaces of any
        kind, a decimal comma allowed.
    unit : the unit the box is shown in, meant where none is typed; in a box of feet and inches a
        bare number is inches, and "5 10" five feet ten.

    Returns
    -------
    The value in the stored unit, to nine decimals, so that 100.4 °F is 38 °C and not a hair more;
    not compared with any limit here.

    Raises
    ------
    NotRead : no number, or a word behind it that is no unit of this quantity.
    """
    plain = SPACES.sub(" ", text).strip().translate(_MARKS).casefold()
    if FEET in (quantity.first, quantity.second):
        feet = _FEET.fullmatch(plain) or (_BARE_FEET.fullmatch(plain) if unit is FEET else None)
        if feet:
            inches = _inches(*feet.groups())
            return _read(inches, FEET, is_told=True)
    match = _WITH_UNIT.fullmatch(plain)
    if match is None:
        raise NotRead(text)
    named = quantity.named(match[4]) if match[4] else unit
    if named is None or (match[2] and named not in (INCH, FEET)):
        raise NotRead(text)
    number = float(match[1]) + _part(match[2], match[3])
    return _read(number, named, is_told=bool(match[4]))


def _read(number: float, unit: Unit, *, is_told: bool) -> Read:
    return Read(round(unit.to_stored(number), 9), number, unit, is_told)


def _inches(feet: str, inches: str | None, over: str | None, under: str | None) -> float:
    """Feet and inches as inches: broken feet have no inches beside them, inches stay below 12."""
    more = float(inches or 0) + _part(over, under)
    if more >= 12 or ("." in feet and more) or ("." in (inches or "") and over):
        raise NotRead(f"{feet} ft {more:g} in")
    return float(feet) * 12 + more


def _part(over: str | None, under: str | None) -> float:
    if over is None or under is None:
        return 0.0
    if not 0 < int(over) < int(under):
        raise NotRead(f"{over}/{under}")
    return int(over) / int(under)
