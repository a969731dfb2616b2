"""One bout of exercise: what it costs, and whether it was as hard as prescribed.

Equations and their sources are in ``assessments/calc/metabolic.py``; which of them a bout takes,
and what is added up, is a project choice.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from assessments.calc import metabolic

NEEDS_NO_METS = frozenset({"strength", "flexibility"})  # no equation; counted in minutes and sets


@dataclass(frozen=True)
class Load:
    """One piece of exercise: the work that was set, and what was measured under it."""

    activity: str = ""
    minutes: int | None = None
    speed_kmh: float | None = None
    grade_percent: float | None = None
    power_w: float | None = None
    steps_per_minute: int | None = None
    step_height_cm: float | None = None
    shown_mets: float | None = None  # what the machine shows, where no equation applies
    exercise: str = ""
    sets: int | None = None
    repetitions: int | None = None
    in_reserve: int | None = None  # repetitions that could still have been done
    load_kg: float | None = None
    heart_rate_bpm: int | None = None
    systolic_mmhg: int | None = None
    diastolic_mmhg: int | None = None
    spo2_percent: int | None = None
    rpe: int | None = None
    angina: int | None = None
    dyspnoea: int | None = None

    @property
    def is_done(self) -> bool:
        """A planned workload alone is not exercise; something measured makes it one."""
        measured = (
            self.minutes,
            self.heart_rate_bpm,
            self.systolic_mmhg,
            self.spo2_percent,
            self.rpe,
            self.angina,
            self.dyspnoea,
            self.repetitions,
            self.in_reserve,
        )
        return bool(self.activity) and any(value is not None for value in measured)

    @property
    def is_measured(self) -> bool:
        """Something a rule reads was measured under it."""
        signs = (self.systolic_mmhg, self.heart_rate_bpm, self.spo2_percent, self.angina)
        return any(value is not None for value in (*signs, self.dyspnoea))


def cost_of(bout: Load, weight_kg: float | None) -> metabolic.Cost | None:
    """Oxygen cost of a bout, from an equation, else from what the machine shows.

    Parameters
    ----------
    bout : its activity and workload; without a grade it is level. Rowing has no equation.
    weight_kg : body mass, for the ergometers. [kg], 25 to 350; None when unknown

    Returns
    -------
    Cost, gross. [mL/kg/min]; None when neither gives one, as for strength and flexibility. A shown
    cost is never marked in range.

    Raises
    ------
    OutOfRange : a workload or body mass that the equation needs lies outside its limits.
    """
    by_equation = _by_equation(bout, weight_kg)
    if by_equation is not None:
        return by_equation
    if bout.shown_mets is not None and bout.activity not in NEEDS_NO_METS:
        return metabolic.Cost(
            bout.shown_mets * metabolic.RESTING_VO2, False, "shown by the machine"
        )
    return None


def _by_equation(bout: Load, weight_kg: float | None) -> metabolic.Cost | None:
    grade = (bout.grade_percent or 0) / 100
    if bout.activity in {"treadmill", "track"} and bout.speed_kmh:
        return metabolic.treadmill(bout.speed_kmh, grade)
    if bout.activity == "stepper" and bout.steps_per_minute and bout.step_height_cm:
        return metabolic.stepping(bout.steps_per_minute, bout.step_height_cm)
    if bout.activity == "cycle" and bout.power_w is not None and weight_kg is not None:
        return metabolic.leg_cycling(bout.power_w, weight_kg)
    if bout.activity == "arm" and bout.power_w is not None and weight_kg is not None:
        return metabolic.arm_cycling(bout.power_w, weight_kg)
    return None


@dataclass(frozen=True)
class Volume:
    """What the bouts add up to; ``n_unknown`` aerobic bouts could not be computed."""

    minutes: int
    met_minutes: float
    kcal: float | None = None  # None without a body mass or with nothing computed
    n_unknown: int = field(default=0)


def volume_of(
    bouts: Sequence[tuple[str, int | None, float | None]], weight_kg: float | None = None
) -> Volume:
    """Minutes, MET-minutes and gross energy of several bouts together.

    Parameters
    ----------
    bouts : activity, minutes [min], 0 to 180 or None, and cost [METs] or None, of each.
    weight_kg : body mass. [kg], 25 to 350; None when unknown

    Returns
    -------
    Minutes of all bouts [min]; dose [MET-min] and energy [kcal] of the aerobic ones with known
    minutes and cost, the energy None without any of them or without a body mass; how many aerobic
    ones are not known.

    Raises
    ------
    OutOfRange : minutes of a bout with a cost, or the body mass, lie outside their limits.
    """
    aerobic = [(m, mets) for activity, m, mets in bouts if activity not in NEEDS_NO_METS]
    known = [(m, mets) for m, mets in aerobic if m is not None and mets is not None]
    kcal = None
    if known and weight_kg is not None:
        kcal = sum(metabolic.energy_kcal(mets, weight_kg, m) for m, mets in known)
    return Volume(
        sum(m for _, m, _ in bouts if m is not None),
        sum(metabolic.met_minutes(mets, m) for m, mets in known),
        kcal,
        len(aerobic) - len(known),
    )


class Fit(StrEnum):
    """Where a value lies beside the prescribed range."""

    BELOW = "below"
    WITHIN = "within"
    ABOVE = "above"


def fit(value: float | None, low: float | None, high: float | None) -> Fit | None:
    """Where a value lies beside a range, the ends of which belong to it.

    Parameters
    ----------
    value : what was measured. [any unit]; None when not measured
    low, high : ends of the range. [the same unit]; None when not prescribed

    Returns
    -------
    Below, within or above; None when any of the three is unknown.
    """
    if value is None or low is None or high is None:
        return None
    if value < low:
        return Fit.BELOW
    return Fit.ABOVE if value > high else Fit.WITHIN


@dataclass(frozen=True)
class Worked:
    """One bout beside the prescription."""

    activity: str
    minutes: int | None
    mets: float | None
    is_in_range: bool
    met_minutes: float | None
    heart_rate_bpm: int | None
    heart_rate_fit: Fit | None
    rpe: int | None
    rpe_fit: Fit | None

    @property
    def fits(self) -> list[tuple[str, Fit]]:
        """What lies where, in words: heart rate, exertion."""
        said = [
            (f"HR {self.heart_rate_bpm}", self.heart_rate_fit),
            (f"RPE {self.rpe}", self.rpe_fit),
        ]
        return [(words, fit) for words, fit in said if fit is not None]


def worked(
    bouts: Sequence[Load],
    weight_kg: float | None,
    heart_rate: tuple[float | None, float | None],
    rpe: tuple[float | None, float | None],
) -> list[Worked]:
    """Each bout with its cost, and where it lies beside the prescribed ranges.

    Parameters
    ----------
    bouts : those that were done.
    weight_kg : body mass. [kg], 25 to 350; None when unknown
    heart_rate : prescribed ends. [beats/min]; None when not prescribed
    rpe : prescribed ends. [on the 6–20 scale]; None when not prescribed

    Returns
    -------
    One row a bout, in their order; cost, dose and fit are None where they are not known.

    Raises
    ------
    OutOfRange : as ``cost_of``, or the minutes of a bout with a cost lie outside 0 to 180.
    """
    rows = []
    for bout in bouts:
        cost = cost_of(bout, weight_kg)
        known = cost is not None and bout.minutes is not None
        rows.append(
            Worked(
                bout.activity,
                bout.minutes,
                cost.mets if cost else None,
                cost.is_in_range if cost else True,
                metabolic.met_minutes(cost.mets, bout.minutes or 0) if cost and known else None,
                bout.heart_rate_bpm,
                fit(bout.heart_rate_bpm, *heart_rate),
                bout.rpe,
                fit(bout.rpe, *rpe),
            )
        )
    return rows
