"""What the safety rules may read about one visit, and what is derived from it before a rule looks.

A derived value that cannot be known is None: not checked, never normal.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from programs.attendance.calc.quantities import Glucose, Mass
from programs.attendance.calc.questions import (
    SYMPTOMS,
    SYMPTOMS_IN_HEART_FAILURE,
    Answers,
    any_of,
)
from programs.attendance.calc.rhythm import Rhythm


@dataclass(frozen=True)
class Effort:
    """What was measured under one load; METs None when the workload cannot be computed."""

    systolic_mmhg: float | None = None
    mets: float | None = None
    diastolic_mmhg: float | None = None
    heart_rate_bpm: float | None = None
    spo2_percent: float | None = None
    angina: int | None = None
    dyspnoea: int | None = None
    place: int = 0  # of the bout on the sheet, from 1


@dataclass(frozen=True)
class Signs:
    """Vital signs at one moment outside exercise."""

    heart_rate_bpm: float | None = None
    systolic_mmhg: float | None = None
    diastolic_mmhg: float | None = None
    spo2_percent: float | None = None
    glucose: Glucose | None = None
    angina: int | None = None


@dataclass(frozen=True)
class Readings:
    """Everything the rules may read about one visit; None means not measured or not asked."""

    heart_rate_bpm: float | None = None
    systolic_mmhg: float | None = None
    diastolic_mmhg: float | None = None
    standing_systolic_mmhg: float | None = None
    spo2_percent: float | None = None
    temperature_c: float | None = None
    glucose: Glucose | None = None
    lowest_glucose_24h: Glucose | None = None  # this visit's readings included
    needed_help_24h: bool = False  # a level 3 low at an earlier visit
    ketones: str = ""  # "", none, small, moderate, large
    weight_kg: float | None = None
    weights_last_3_days_kg: tuple[float, ...] = ()
    answers: Answers = field(default_factory=dict)
    # from the record
    has_heart_failure: bool = False
    nyha: int | None = None
    uses_insulin: bool = False  # or a secretagogue
    has_beta_blocker: bool = False
    has_pacemaker: bool = False
    has_icd: bool = False
    days_since_event: int | None = None
    days_since_mi: int | None = None
    entry_answers: Mapping[str, bool] | None = None  # None: no entry screen on record
    entry_says_start: bool | None = None
    was_interrupted: bool = False  # an earlier hold or stop whose return is not confirmed
    upper_limit_bpm: float | None = None
    # in exercise
    has_exercised: bool = False
    has_ecg: bool | None = None
    minutes_exercised: float | None = None
    efforts: tuple[Effort, ...] = ()
    rhythm: Rhythm = field(default_factory=Rhythm)
    # afterwards
    is_over: bool = False
    after: Signs = field(default_factory=Signs)
    recovery: Signs = field(default_factory=Signs)
    latest_recheck: Glucose | None = None  # by the clock, since exercise began

    @property
    def has_symptoms(self) -> bool | None:
        """Any symptom among the questions before exercise; None while one is not answered."""
        asked = SYMPTOMS_IN_HEART_FAILURE if self.has_heart_failure else SYMPTOMS
        return any_of(self.answers, asked)


def weight_gain_kg(r: Readings) -> float | None:
    """Largest gain over a weight of the last one to three days; None when there is none. [kg]

    Rounded to grams: in binary floating point 80.0 - 78.2 falls just short of 1.8.
    """
    if r.weight_kg is None or not r.weights_last_3_days_kg:
        return None
    return Mass(round(r.weight_kg - min(r.weights_last_3_days_kg), 3))


def fall_on_standing_mmhg(r: Readings) -> float | None:
    """Systolic at rest less systolic standing. [mmHg]"""
    if r.systolic_mmhg is None or r.standing_systolic_mmhg is None:
        return None
    return r.systolic_mmhg - r.standing_systolic_mmhg


SYSTOLIC_FALL_LIMIT_MMHG = 10
SMALLEST_FALL_MMHG = 5  # the tightest limit a site or person may have


def systolic_fall_mmhg(r: Readings) -> float | None:
    """Largest fall in systolic pressure from any lower load to the last one. [mmHg]

    Rest is below every load. Where a fall that could matter lies between loads that cannot be
    ranked, the answer is None: not checked, never normal.
    """
    last = last_effort(r)
    if last.systolic_mmhg is None:
        return None
    falls, unranked = [], []
    if r.systolic_mmhg is not None:
        falls.append(r.systolic_mmhg - last.systolic_mmhg)
    for before in r.efforts[:-1]:
        if before.systolic_mmhg is None:
            continue
        fall = before.systolic_mmhg - last.systolic_mmhg
        if before.mets is None or last.mets is None:
            unranked.append(fall)
        elif last.mets > before.mets:
            falls.append(fall)
    known = max(falls, default=None)
    if known is not None and known >= SYSTOLIC_FALL_LIMIT_MMHG:
        return known
    return None if max(unranked, default=0) >= SMALLEST_FALL_MMHG else known


def every_fall_known(r: Readings) -> bool | None:
    """True when pressure was taken under load and each fall can be told; else None."""
    with_pressure = [
        systolic_fall_mmhg(replace(r, efforts=r.efforts[:n]))
        for n, effort in enumerate(r.efforts, start=1)
        if effort.systolic_mmhg is not None
    ]
    return None if not with_pressure or None in with_pressure else True


def last_effort(r: Readings) -> Effort:
    """What was measured under the load that is judged; nothing before any."""
    return r.efforts[-1] if r.efforts else Effort()


def spo2_fall_with_symptoms(r: Readings) -> float | None:
    """Fall in saturation from rest, 0 without symptoms in exercise. [percentage points]"""
    effort = last_effort(r)
    if effort.spo2_percent is None or r.spo2_percent is None:
        return None
    signs = any(r.answers.get(key) for key in ("unsteady", "pale", "wheeze"))
    graded = (effort.angina or 0) > 0 or (effort.dyspnoea or 0) > 0
    return r.spo2_percent - effort.spo2_percent if signs or graded else 0.0


def beats_above_limit(r: Readings) -> float | None:
    """Heart rate under the load less the person's own upper limit. [beats/min]"""
    rate = last_effort(r).heart_rate_bpm
    if rate is None or r.upper_limit_bpm is None:
        return None
    return rate - r.upper_limit_bpm


KETONE_RANK = {"none": 0, "small": 1, "moderate": 2, "large": 3}


def ketone_rank(r: Readings) -> float | None:
    """0 none or trace, 1 small, 2 moderate, 3 large; None when not tested."""
    return KETONE_RANK.get(r.ketones)


def glucose_without_ketones(r: Readings) -> Glucose | None:
    """Glucose while ketones are not tested; zero once they are, so that the rule is settled."""
    if r.glucose is None:
        return None
    return r.glucose if r.ketones == "" else Glucose(0)


def glucose_with_some_ketones(r: Readings) -> Glucose | None:
    """Glucose unless ketones were tested and none, or only a trace, were found."""
    if r.glucose is None:
        return None
    return Glucose(0) if r.ketones == "none" else r.glucose


def last_glucose(r: Readings) -> Glucose | None:
    """The latest glucose since exercise began; without times, recovery comes after "after"."""
    if r.latest_recheck is not None:
        return r.latest_recheck
    return r.recovery.glucose if r.recovery.glucose is not None else r.after.glucose


def once_over(r: Readings, name: str) -> float | None:
    """A vital sign in recovery; until it is taken, the one straight after exercise stands."""
    settled: float | None = getattr(r.recovery, name)
    straight_after: float | None = getattr(r.after, name)
    return settled if settled is not None else straight_after


def fall_after_exercise_mmhg(r: Readings) -> float | None:
    """Systolic before exercise less systolic after it. [mmHg]"""
    after = once_over(r, "systolic_mmhg")
    return None if r.systolic_mmhg is None or after is None else r.systolic_mmhg - after


def rate_above_rest_bpm(r: Readings) -> float | None:
    """Heart rate after exercise less heart rate before it. [beats/min]"""
    after = once_over(r, "heart_rate_bpm")
    return None if r.heart_rate_bpm is None or after is None else after - r.heart_rate_bpm


def yes_is_one(answer: bool | None) -> float | None:
    return None if answer is None else float(answer)
