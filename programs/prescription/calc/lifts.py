"""The lifts of a prescription: an exercise with its repetitions and load.

Written one a line, as on paper: "Leg press 12 x 40 kg" (common practice, no source).
"""

import re
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from patients.calc.limits import LOAD_KG, REPETITIONS
from patients.calc.measuring import SPACES, STORED, WEIGHT, NotRead, Units, read

MOST = 8  # lifts of a prescription (project choice)
NAME_LENGTH = 60
MUCH_HEAVIER = 1.15  # asked about beyond it (project choice)
_LINE = re.compile(
    r"(?P<name>.*?\D)(?P<times>\d{1,4})(?: ?[x×*] ?(?P<load>.+)| times)?", re.IGNORECASE
)


class NotALift(ValueError):
    """A line that cannot be read; the message is for the reader."""


class Lift(NamedTuple):
    """One exercise as prescribed. Repetitions [times], load [kg]; None has no load."""

    exercise: str
    repetitions: int
    kg: float | None = None


def key_of(exercise: str) -> str:
    """What an exercise is found by, however it was typed.

    Parameters
    ----------
    exercise : its name.

    Returns
    -------
    The name in small letters with single spaces.
    """
    return " ".join(exercise.casefold().split())


def lifts_of(stored: Iterable[Mapping[str, Any]]) -> tuple[Lift, ...]:
    """Lifts as they are stored, one a row with the names of a bout.

    Parameters
    ----------
    stored : rows with ``exercise``, ``repetitions`` [times] and ``load_kg`` [kg].

    Returns
    -------
    The lifts, in their order.
    """
    return tuple(Lift(row["exercise"], row["repetitions"], row["load_kg"]) for row in stored)


def stored(lifts: Iterable[Lift]) -> list[dict[str, Any]]:
    """Rows to be stored, which ``lifts_of`` reads.

    Parameters
    ----------
    lifts : in the order in which they are trained.

    Returns
    -------
    One row a lift.
    """
    return [
        {"exercise": one.exercise, "repetitions": one.repetitions, "load_kg": one.kg}
        for one in lifts
    ]


def line_of(lift: Lift, units: Units = STORED) -> str:
    """A lift in words.

    Parameters
    ----------
    lift : what is prescribed.
    units : in which the load is written.

    Returns
    -------
    Such as "Leg press 12 × 40 kg", or "Heel raise 12 times" without a load; ``read_line`` reads it.
    """
    if lift.kg is None:
        return f"{lift.exercise} {lift.repetitions} times"
    return f"{lift.exercise} {lift.repetitions} × {units.weight.told(lift.kg)}"


def read_line(text: str, units: Units = STORED) -> Lift:
    """A lift as it was typed.

    Parameters
    ----------
    text : as ``line_of`` writes it; "x" or "*" for the cross, the unit may be missing.
    units : what is meant by a load without its unit.

    Returns
    -------
    The lift, its load in kg.

    Raises
    ------
    NotALift : no name, no number of repetitions, or one of them is impossible.
    """
    plain = SPACES.sub(" ", text).strip()
    found = _LINE.fullmatch(plain)
    name = found["name"].strip(" ,:") if found else ""
    if found is None or not name or name.endswith(("-", "+", ".", "\u2212")):
        raise NotALift(f"“{plain}”: exercise, repetitions × load, such as Leg press 12 × 40 kg.")
    if len(name) > NAME_LENGTH:
        raise NotALift(f"“{name}”: at most {NAME_LENGTH} letters.")
    times, kg = int(found["times"]), None
    if not REPETITIONS.low <= times <= REPETITIONS.high:
        raise NotALift(f"{name}: {REPETITIONS.low:g} to {REPETITIONS.high:g} repetitions.")
    if found["load"]:
        try:
            kg = read(WEIGHT, found["load"], units.weight).stored
        except NotRead:
            raise NotALift(f"{name}: “{found['load']}” is no load.") from None
        if not 0 < kg <= LOAD_KG.high:
            raise NotALift(f"{name}: a load up to {units.weight.told(LOAD_KG.high)}.")
    return Lift(name, times, kg)


def to_ask(before: Iterable[Lift], lifts: Iterable[Lift], units: Units = STORED) -> list[str]:
    """What of the lifts in force would change in a way that may be a slip.

    Parameters
    ----------
    before : those in force.
    lifts : as typed.
    units : in which loads are told.

    Returns
    -------
    Sentences: an exercise left out, a load left out, a load raised by more than ``MUCH_HEAVIER``.

    References
    ----------
    project choice
    """
    now = {key_of(lift.exercise): lift for lift in lifts}
    told = []
    for old in before:
        new = now.get(key_of(old.exercise))
        if new is None:
            told.append(f"{old.exercise} is left out")
        elif old.kg is not None and new.kg is None:
            told.append(f"{old.exercise} without a load, in force {units.weight.told(old.kg)}")
        elif old.kg and new.kg and new.kg > old.kg * MUCH_HEAVIER:
            both = units.weight.told(new.kg), units.weight.told(old.kg)
            told.append(f"{old.exercise} {both[0]}, in force {both[1]}")
    return told


def read_lines(text: str, shown: Iterable[Lift] = (), units: Units = STORED) -> tuple[Lift, ...]:
    """Lifts as they were typed, one a line.

    Parameters
    ----------
    text : the lines; empty ones are passed over.
    shown : those the box was filled with: a line left as it was keeps its load exactly.
    units : as ``read_line``.

    Returns
    -------
    The lifts, in their order.

    Raises
    ------
    NotALift : as ``read_line``; an exercise stands twice; more than ``MOST`` of them.
    """
    untouched = {line_of(lift, units): lift for lift in shown}
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    lifts = [untouched.get(line) or read_line(line, units) for line in lines]
    names = [key_of(lift.exercise) for lift in lifts]
    twice = next((one.exercise for one, key in zip(lifts, names, strict=True)
                  if names.count(key) > 1), "")  # fmt: skip
    if twice:
        raise NotALift(f"{twice} stands there twice.")
    if len(lifts) > MOST:
        raise NotALift(f"At most {MOST} exercises.")
    return tuple(lifts)
