"""What each machine is set to for a wanted number of METs, and what that costs in the end.

Settings are rounded down to what the machine can be set to, so that no setting costs more than was
asked (project choice). Equations and their spans are in ``assessments/calc/metabolic.py``; a
machine that an equation does not reach says so, and the others are worked out all the same.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from assessments.calc import metabolic
from patients.calc.limits import GRADE_PERCENT, Limit, NotScorable
from patients.calc.units import kmh_from_mph, metres_per_minute_from_kmh, mph_from_kmh

KINDS = ("treadmill", "cycle", "arm", "stepper", "rower", "track")
BY_SPEED, BY_POWER = frozenset({"treadmill", "track"}), frozenset({"cycle", "arm"})
STEP = Limit("Step of the setting", "", 0.01, 50)
SETTING = Limit("Setting", "", 0, 600)


@dataclass(frozen=True)
class Machine:
    """A machine a site owns, and what it can be set to."""

    kind: str
    name: str
    least: float  # [its unit]
    most: float
    step: float
    is_mph: bool = False  # speed is set in mph
    grade_step: float | None = None  # [%]; None where it has no grade
    most_grade: float | None = None  # [%]
    height_cm: float | None = None  # of a step

    @property
    def unit(self) -> str:
        """What its setting is told in: "km/h", "mph", "W" or "/min"."""
        if self.kind in BY_SPEED:
            return "mph" if self.is_mph else "km/h"
        return "/min" if self.kind == "stepper" else "W"

    @property
    def step_words(self) -> str:
        """The smallest change of its setting, such as "0.1 km/h"."""
        return f"{self.step:g} {self.unit}"


# What a site begins with until it says what it owns; common practice, no source.
USUAL: Mapping[str, Machine] = {
    "treadmill": Machine("treadmill", "Treadmill", 0.8, 16, 0.1, grade_step=0.5, most_grade=15),
    "cycle": Machine("cycle", "Cycle", 10, 400, 5),
    "arm": Machine("arm", "Arm ergometer", 5, 200, 5),
    "stepper": Machine("stepper", "Stepper", 5, 60, 1, height_cm=20),
    "rower": Machine("rower", "Rower", 0, 500, 1),
    "track": Machine("track", "Track", 1, 8, 0.1),
}


@dataclass(frozen=True)
class Setting:
    """What one machine is set to, and what it costs there."""

    machine: Machine
    speed_kmh: float | None = None
    grade_percent: float | None = None
    power_w: float | None = None
    steps_per_minute: int | None = None
    step_height_cm: float | None = None
    mets: float | None = None  # after rounding; None when there is no setting
    is_in_range: bool = True  # of the equation
    said: str = ""  # why there is no setting, or what is odd about it

    @property
    def is_set(self) -> bool:
        """Whether the machine can be set to anything that was asked."""
        return self.mets is not None


def setting_for(
    machine: Machine, mets: float, weight_kg: float | None, grade_percent: float | None = None
) -> Setting:
    """What a machine is set to for a number of METs.

    Parameters
    ----------
    machine : the machine. Rowing has no equation.
    mets : work wanted. [METs], above 1
    weight_kg : body mass, for the ergometers. [kg], 25 to 350; None when unknown
    grade_percent : grade wanted of a treadmill. [%], -5 to 30; None lets it walk level, and
        brisk with the grade it needs where level walking would be too fast

    Returns
    -------
    The setting, rounded down to a step of the machine, with the METs it costs there. Without a
    setting it says why; never more METs than wanted.

    Raises
    ------
    OutOfRange : the grade or body mass is impossible.

    References
    ----------
    ACSM equations (Bushman 2020), as in ``assessments/calc/metabolic.py``.
    """
    if grade_percent is not None:
        GRADE_PERCENT.check(grade_percent)
    work_out = _WAYS[machine.kind]
    try:
        return work_out(machine, mets, weight_kg, grade_percent)
    except NotScorable as error:
        return Setting(machine, said=str(error))


def down_to(value: float, step: float) -> float:
    """A setting rounded down to a step.

    Parameters
    ----------
    value : what the equation gives. [the machine's unit], at least 0
    step : smallest change of the setting. [the machine's unit], above 0

    Returns
    -------
    The highest whole number of steps that is not above the value, to two decimals.

    References
    ----------
    project choice
    """
    # The small part keeps a value that is whole in tenths whole in binary too.
    return round(int(value / step + 1e-6) * step, 2)


def _walk(machine: Machine, mets: float, _: float | None, grade_percent: float | None) -> Setting:
    if machine.kind == "track":
        grade_percent = 0.0
    kmh = metabolic.walking_speed_for(mets, (grade_percent or 0) / 100)
    if kmh <= metabolic.FASTEST_WALK_KMH:
        return _at_speed(machine, kmh, grade_percent or 0.0)
    slope = 100 * metabolic.grade_for(mets, metabolic.BRISK_WALK_KMH)
    too_fast = (
        f"{mets:g} METs at {grade_percent or 0:g} % would need {_speed(machine, kmh)}, faster than "
        f"the walking equation holds ({_speed(machine, metabolic.FASTEST_WALK_KMH)})."
    )
    brisk = _speed(machine, metabolic.BRISK_WALK_KMH)
    if grade_percent is None and machine.most_grade is not None and slope > machine.most_grade:
        return _run(machine, mets, too_fast)
    if machine.grade_step is None or machine.most_grade is None or slope > machine.most_grade:
        return Setting(machine, said=too_fast)
    if grade_percent is not None:
        return Setting(machine, said=f"{too_fast} About {slope:.0f} % at {brisk} costs as much.")
    grade = down_to(slope, machine.grade_step)
    return _at_speed(machine, metabolic.BRISK_WALK_KMH, grade)


def _run(machine: Machine, mets: float, too_fast: str) -> Setting:
    """On the level, where the running equation holds; between the two nothing is certain."""
    kmh = metabolic.running_speed_for(mets)
    shown = down_to(mph_from_kmh(kmh) if machine.is_mph else kmh, machine.step)
    set_kmh = kmh_from_mph(shown) if machine.is_mph else shown
    if set_kmh <= metabolic.SLOWEST_RUN_KMH or not machine.least <= shown <= machine.most:
        return Setting(machine, said=too_fast)
    cost = metabolic.running(metres_per_minute_from_kmh(set_kmh))
    return Setting(machine, speed_kmh=set_kmh, mets=cost.mets, said="Running, on the level.")


def _speed(machine: Machine, kmh: float) -> str:
    return f"{mph_from_kmh(kmh) if machine.is_mph else kmh:.1f} {machine.unit}"


def _at_speed(machine: Machine, kmh: float, grade_percent: float) -> Setting:
    wanted = mph_from_kmh(kmh) if machine.is_mph else kmh
    shown = _settable(machine, wanted)
    set_kmh = kmh_from_mph(shown) if machine.is_mph else shown
    cost = metabolic.treadmill(set_kmh, grade_percent / 100)
    found = Setting(machine, speed_kmh=set_kmh, mets=cost.mets, is_in_range=cost.is_in_range)
    # A track has no grade; a treadmill that runs level needs none told.
    if machine.kind == "treadmill" and grade_percent:
        found = replace(found, grade_percent=grade_percent)
    return _marked(found, f"slower than the equation holds ({_speed(machine, 3.0)})")


def _settable(machine: Machine, wanted: float) -> float:
    shown = down_to(wanted, machine.step)
    if not machine.least <= shown <= machine.most:
        raise NotScorable(
            f"Would need {shown:g} {machine.unit}; it can be set from {machine.least:g} to "
            f"{machine.most:g} {machine.unit}."
        )
    return shown


def _marked(found: Setting, why: str) -> Setting:
    return found if found.is_in_range else replace(found, said=f"Estimate: {why}.")


def _power(
    to_power: Callable[[float, float], float], cost_of: Callable[[float, float], metabolic.Cost]
) -> Callable[[Machine, float, float | None, float | None], Setting]:
    def work_out(
        machine: Machine, mets: float, weight_kg: float | None, _: float | None
    ) -> Setting:
        if weight_kg is None:
            raise NotScorable("Weight missing: no power can be worked out.")
        power = _settable(machine, to_power(mets, weight_kg))
        cost = cost_of(power, weight_kg)
        found = Setting(machine, power_w=power, mets=cost.mets, is_in_range=cost.is_in_range)
        span = metabolic.LEG_RANGE if machine.kind == "cycle" else metabolic.ARM_RANGE
        low, high = (one / metabolic.KGM_PER_MIN_PER_W for one in span)
        return _marked(found, f"the equation holds from {low:.0f} to {high:.0f} W")

    return work_out


def _stepper(machine: Machine, mets: float, _: float | None, __: float | None) -> Setting:
    if machine.height_cm is None:
        raise NotScorable("The height of its step is not recorded.")
    wanted = metabolic.step_rate_for(mets, machine.height_cm)
    rate = int(_settable(machine, wanted))
    cost = metabolic.stepping(rate, machine.height_cm)
    found = Setting(
        machine,
        steps_per_minute=rate,
        step_height_cm=machine.height_cm,
        mets=cost.mets,
        is_in_range=cost.is_in_range,
    )
    low, high = metabolic.STEP_RATE_RANGE
    return _marked(found, f"the equation holds from {low:.0f} to {high:.0f} /min")


def _rower(machine: Machine, *_: float | None) -> Setting:
    return Setting(machine, said="There is no ACSM equation for rowing: set it by RPE.")


_WAYS: Mapping[str, Callable[[Machine, float, float | None, float | None], Setting]] = {
    "treadmill": _walk,
    "track": _walk,
    "cycle": _power(metabolic.leg_power_for, metabolic.leg_cycling),
    "arm": _power(metabolic.arm_power_for, metabolic.arm_cycling),
    "stepper": _stepper,
    "rower": _rower,
}
