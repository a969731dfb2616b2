"""What the safety rules may read about one visit, and what is derived from it before a rule looks.

A derived value that cannot be known is None: not checked, never normal.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Effort:
    """One blood pressure under a load; METs None when the workload cannot be computed."""

    systolic_mmhg: float
    mets: float | None = None
    diastolic_mmhg: float | None = None


@dataclass(frozen=True)
class Readings:
    """Everything the rules may read about one visit; None means not measured or not asked."""

    heart_rate_bpm: float | None = None
    systolic_mmhg: float | None = None
    diastolic_mmhg: float | None = None
    spo2_percent: float | None = None
    glucose_mgdl: float | None = None
    weight_kg: float | None = None
    weights_last_3_days_kg: tuple[float, ...] = ()
    has_new_symptoms: bool | None = None
    has_heart_failure: bool = False
    uses_insulin: bool = False
    efforts: tuple[Effort, ...] = ()
    pvc_per_minute: float | None = None
    has_couplets_or_triplets: bool | None = None
    qrs_before_ms: float | None = None
    qrs_during_ms: float | None = None
    has_exercised: bool = False


def weight_gain_kg(r: Readings) -> float | None:
    """Largest gain over a weight of the last one to three days; None when there is none. [kg]

    Rounded to grams: in binary floating point 80.0 - 78.2 falls just short of 1.8.
    """
    if r.weight_kg is None or not r.weights_last_3_days_kg:
        return None
    return round(r.weight_kg - min(r.weights_last_3_days_kg), 3)


SYSTOLIC_FALL_LIMIT_MMHG = 10


def systolic_fall_mmhg(r: Readings) -> float | None:
    """Largest fall in systolic pressure from any lower load to a higher one. [mmHg]

    Rest is below every load. Where a fall that would matter lies between loads that cannot be
    ranked, the answer is None: not checked, never normal.
    """
    falls, unranked = [], []
    earlier: list[Effort] = []
    for effort in r.efforts:
        if r.systolic_mmhg is not None:
            falls.append(r.systolic_mmhg - effort.systolic_mmhg)
        falls += [
            before.systolic_mmhg - effort.systolic_mmhg
            for before in earlier
            if before.mets is not None and effort.mets is not None and effort.mets > before.mets
        ]
        unranked += [
            before.systolic_mmhg - effort.systolic_mmhg
            for before in earlier
            if before.mets is None or effort.mets is None
        ]
        earlier.append(effort)
    known = max(falls, default=None)
    if known is not None and known >= SYSTOLIC_FALL_LIMIT_MMHG:
        return known
    return None if max(unranked, default=0) >= SYSTOLIC_FALL_LIMIT_MMHG else known


def highest_systolic_mmhg(r: Readings) -> float | None:
    """Highest systolic pressure during exercise. [mmHg]"""
    return max((effort.systolic_mmhg for effort in r.efforts), default=None)


def highest_diastolic_mmhg(r: Readings) -> float | None:
    """Highest diastolic pressure during exercise. [mmHg]"""
    known = [e.diastolic_mmhg for e in r.efforts if e.diastolic_mmhg is not None]
    return max(known, default=None)


def widened_qrs_ms(r: Readings) -> float | None:
    """QRS during exercise if it is wider than before, or if before is unknown; 0 if not wider."""
    if r.qrs_during_ms is None:
        return None
    if r.qrs_before_ms is not None and r.qrs_during_ms <= r.qrs_before_ms:
        return 0.0
    return r.qrs_during_ms


def yes_is_one(answer: bool | None) -> float | None:
    return None if answer is None else float(answer)
