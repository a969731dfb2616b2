"""A workload as it is said on the floor: "5.2 km/h 2 %", "45 W", "24 /min 20 cm", "10 kg".

How it is written is common practice, no source. Speed and load are written in somebody's own unit
(``patients/calc/measuring.py``); a unit that is typed wins over it.
"""

import re
from collections.abc import Mapping

from patients.calc.measuring import SPACES, SPEED, STORED, WEIGHT, Quantity, Units

# What each activity is set to, in the order it is said, with the unit behind the number.
SET_TO: Mapping[str, tuple[tuple[str, str], ...]] = {
    "treadmill": (("speed_kmh", "km/h"), ("grade_percent", "%")),
    "track": (("speed_kmh", "km/h"),),
    "cycle": (("power_w", "W"),),
    "arm": (("power_w", "W"),),
    "rower": (("power_w", "W"), ("shown_mets", "METs")),
    "stepper": (("steps_per_minute", "/min"), ("step_height_cm", "cm"), ("shown_mets", "METs")),
    "strength": (("load_kg", "kg"),),
    "flexibility": (),
}
NAMES = tuple(dict.fromkeys(name for parts in SET_TO.values() for name, _ in parts))
# Written in one of two units; any other value in the one above alone.
IN_UNITS: Mapping[str, Quantity] = {"speed_kmh": SPEED, "load_kg": WEIGHT}
_PART = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*"
    r"(km/h|kmh|kph|mph|mi/h|%|watts?\b|w\b|/min|cm|mets?\b|kgs?\b|lbs?\b|#|pounds?\b)?",
    re.IGNORECASE,
)
_NAMES = {"watt": "w", "watts": "w", "met": "mets"}


class NotAWorkload(ValueError):
    """What was typed is no workload of this activity; the message is for the reader."""


def workload_words(activity: str, values: Mapping[str, float | None], units: Units = STORED) -> str:
    """A workload in words.

    Parameters
    ----------
    activity : its stored word, such as "treadmill".
    values : by name, each in the unit its name tells.
    units : in which speed and load are written.

    Returns
    -------
    The values that are set, with their units, such as "5.2 km/h 2 %"; "" when none is.
    """
    parts = [(name, values.get(name), unit) for name, unit in SET_TO.get(activity, ())]
    return " ".join(value_words(n, v, unit, units) for n, v, unit in parts if v is not None)


def value_words(name: str, value: float, unit: str, units: Units) -> str:
    """One value a machine is set to, in words.

    Parameters
    ----------
    name : of the value. "speed_kmh" and "load_kg" are written in ``units``
    value : [the unit its name tells]
    unit : written behind any other value.
    units : somebody's own.

    Returns
    -------
    The number with its unit.
    """
    quantity = IN_UNITS.get(name)
    if quantity is None:
        return f"{value:g} {unit}"
    own = units.speed if quantity is SPEED else units.weight
    return own.told(value)


def read_workload(activity: str, text: str, units: Units = STORED) -> dict[str, float | None]:
    """The values of a typed workload.

    Parameters
    ----------
    activity : its stored word, such as "treadmill".
    text : numbers in the order they are said, each with or without its unit; a speed may be in km/h
        or mph, a load in kg or lb. A number may have a decimal comma.
    units : what is meant by a speed or a load without its unit.

    Returns
    -------
    Every value the activity can be set to, by name, in the unit its name tells; None where none
    was typed. [km/h, %, W, /min, cm, METs, kg]; not compared with any limit here

    Raises
    ------
    NotAWorkload : something is no number, has a unit of another activity, or is one too many.
    """
    wanted = SET_TO.get(activity, ())
    found: dict[str, float | None] = {name: None for name, _ in wanted}
    rest, at = SPACES.sub(" ", text).strip(), 0
    while at < len(rest):
        part = _PART.match(rest, at)
        if part is None:
            raise NotAWorkload(_help(activity, text, units))
        at = part.end()
        while at < len(rest) and rest[at] in " ,;·":
            at += 1
        number, word = float(part[1].replace(",", ".")), (part[2] or "").lower()
        name = _name(wanted, found, word)
        if name is None:
            raise NotAWorkload(_help(activity, text, units))
        found[name] = _stored(name, number, word, units)
    return found


def _stored(name: str, number: float, word: str, units: Units) -> float:
    quantity = IN_UNITS.get(name)
    if quantity is None:
        return number
    own = units.speed if quantity is SPEED else units.weight
    unit = (quantity.named(word) if word else own) or own
    return round(unit.to_stored(number), 9)


def _name(
    wanted: tuple[tuple[str, str], ...], found: Mapping[str, float | None], word: str
) -> str | None:
    """Which value a number is: by its unit, else the first that has none yet."""
    for name, own in wanted:
        if found[name] is not None:
            continue
        quantity = IN_UNITS.get(name)
        named = quantity is not None and quantity.named(word) is not None
        if not word or named or _NAMES.get(word, word) == own.lower():
            return name
    return None


def _help(activity: str, text: str, units: Units) -> str:
    wanted = SET_TO.get(activity, ())
    if not wanted:
        return f"{activity.capitalize() or 'No activity'} has no load: leave it empty."
    own = {"speed_kmh": units.speed.name, "load_kg": units.weight.name}
    example = " ".join(
        f"{n} {own.get(name, unit)}" for n, (name, unit) in zip((5, 2, 4), wanted, strict=False)
    )
    return f"{text[:20]!r} is no load of this kind; write it such as {example}."
