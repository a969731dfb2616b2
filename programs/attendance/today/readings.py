"""What was measured in a class so far, as its lines show it."""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, NamedTuple

from patients.calc.measuring import Units
from programs.attendance.calc.sheet import Vitals
from programs.attendance.calc.workload import NAMES as WORKLOAD
from programs.attendance.calc.workload import workload_words
from programs.attendance.models import Bout, Reading
from programs.attendance.today.statements import LAST, LAST_BOUTS, READINGS, RUN, Among

ACTIVITIES = dict(Bout.Activity.choices)


@dataclass(frozen=True)
class Set:
    """A machine and what it is set to."""

    activity: str
    values: tuple[float | None, ...] = ()  # in the order of WORKLOAD, each in its stored unit

    def load(self, units: Units) -> str:
        """What it is set to, in words."""
        set_to = dict(zip(WORKLOAD, self.values, strict=False))
        return workload_words(self.activity, set_to, units)

    @property
    def name(self) -> str:
        return str(ACTIVITIES.get(self.activity, self.activity))


class Ran(NamedTuple):
    """A bout of exercise, running or over."""

    place: int
    work: Set
    began_at: datetime | None
    minutes: int | None
    heart_rate_bpm: int | None
    pressure: str
    spo2_percent: int | None
    rpe: int | None
    angina: int | None


class LastTime(NamedTuple):
    """The monitor at the person's last session."""

    has_ecg: bool | None
    rhythm: str


def vitals_of(slot: int, on: date, among: Among = None) -> dict[tuple[int, str], Vitals]:
    """The last known values over all repeats, by visit and moment; a pressure stays a pair."""
    found: dict[tuple[int, str], Vitals] = {}
    for visit, phase, rate, upper, lower, spo2, weight, glucose, is_mmoll in READINGS(
        slot, on, among
    ):
        given: dict[str, Any] = {
            "heart_rate_bpm": rate,
            "spo2_percent": spo2,
            "weight_kg": weight,
        }
        known = {name: value for name, value in given.items() if value is not None}
        if upper is not None:
            known |= {"systolic_mmhg": upper, "diastolic_mmhg": lower}
        if glucose is not None:
            known |= {"glucose_mgdl": glucose, "glucose_is_mmoll": is_mmoll}
        key = visit, Reading.Phase(phase).value
        found[key] = replace(found.get(key, Vitals()), **known)
    return found


def bouts_of(slot: int, on: date, among: Among = None) -> dict[int, list[Ran]]:
    """The bouts of each visit of a class, in their places."""
    found: dict[int, list[Ran]] = defaultdict(list)
    n = len(WORKLOAD)
    for visit, place, activity, began_at, minutes, *rest in RUN(slot, on, among):
        values, (rate, upper, lower, spo2, rpe, angina) = rest[:n], rest[n:]
        work = Set(activity, tuple(values))
        pressure = "" if upper is None else f"{upper}/{lower}"
        found[visit].append(Ran(place, work, began_at, minutes, rate, pressure, spo2, rpe, angina))
    return found


def last_time_of(slot: int, on: date) -> dict[int, LastTime]:
    """The monitor at the last session of each course of a class."""
    return {course: LastTime(*row) for course, *row in LAST(slot=slot, on=on)}


def last_work_of(slot: int, on: date) -> dict[int, tuple[date, Set]]:
    """The first machine of the last session of each course of a class, with its day."""
    return {
        course: (day, Set(activity, tuple(values)))
        for course, day, activity, *values in LAST_BOUTS(slot=slot, on=on)
    }
