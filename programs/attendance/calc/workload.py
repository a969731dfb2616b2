"""A workload as it is said on the floor: "5.2 km/h 2 %", "45 W", "24 /min 20 cm", "10 kg".

How it is written is common practice, no source; a mile is 1.609344 km (international yard and
pound agreement of 1959).
"""

import re
from collections.abc import Mapping

KM_PER_MILE = 1.609344
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
_PART = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(km/h|kmh|mph|%|watts?|w|/min|cm|mets?|kg)?", re.IGNORECASE
)
_UNITS = {"kmh": "km/h", "watt": "w", "watts": "w", "met": "mets"}


class NotAWorkload(ValueError):
    """What was typed is no workload of this activity; the message is for the reader."""


def workload_words(activity: str, values: Mapping[str, float | None]) -> str:
    """A workload in words.

    Parameters
    ----------
    activity : its stored word, such as "treadmill".
    values : by name, each in the unit its name tells.

    Returns
    -------
    The values that are set, with their units, such as "5.2 km/h 2 %"; "" when none is.
    """
    parts = [(values.get(name), unit) for name, unit in SET_TO.get(activity, ())]
    return " ".join(f"{value:g} {unit}" for value, unit in parts if value is not None)


def read_workload(activity: str, text: str) -> dict[str, float | None]:
    """The values of a typed workload.

    Parameters
    ----------
    activity : its stored word, such as "treadmill".
    text : numbers in the order they are said, each with or without its unit; a speed may be in
        mph. A number may have a decimal comma.

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
    rest, at = text.strip(), 0
    while at < len(rest):
        part = _PART.match(rest, at)
        if part is None:
            raise NotAWorkload(_help(activity, text))
        at = part.end()
        while at < len(rest) and rest[at] in " ,;·":
            at += 1
        number, unit = float(part[1].replace(",", ".")), (part[2] or "").lower()
        name = _name(wanted, found, _UNITS.get(unit, unit))
        if name is None:
            raise NotAWorkload(_help(activity, text))
        found[name] = round(number * KM_PER_MILE, 2) if unit == "mph" else number
    return found


def _name(
    wanted: tuple[tuple[str, str], ...], found: Mapping[str, float | None], unit: str
) -> str | None:
    """Which value a number is: by its unit, else the first that has none yet."""
    unit = "km/h" if unit == "mph" else unit
    for name, own in wanted:
        if found[name] is None and unit in ("", own.lower()):
            return name
    return None


def _help(activity: str, text: str) -> str:
    wanted = SET_TO.get(activity, ())
    if not wanted:
        return f"{activity.capitalize() or 'No activity'} has no load: leave it empty."
    example = " ".join(f"{n} {unit}" for n, (_, unit) in zip((5, 2, 4), wanted, strict=False))
    return f"{text[:20]!r} is no load of this kind; write it such as {example}."
