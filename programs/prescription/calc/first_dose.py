"""The first prescription whole: intensity, the parts beside it, and the limits to be signed.

Every value is a first value of a form that a clinician reads and changes. Which limits are
proposed for signature is a project choice inside the published spans.
"""

from typing import Any

from programs.prescription.calc.ceilings import ceilings
from programs.prescription.calc.choosing import LIGHTER_RPE, RESERVE, Intensity, is_capacity
from programs.prescription.calc.dose import (
    BALANCE_FROM_AGE,
    HOME_DAYS,
    LONG_WARM_UP,
    USUAL_BALANCE_DAYS,
    USUAL_HOLD_S,
    USUAL_STRETCH_DAYS,
    USUAL_WARM_UP,
)
from programs.prescription.calc.intensity import heart_rate_at, mets_between
from programs.prescription.calc.person import SOURCES, Known
from programs.prescription.calc.strength import DAYS_A_WEEK, SETS, Start

MINUTES, PER_WEEK = 30, 3  # 3 days a week, 20 to 45 min: RACGP HANDI
MOST_PER_WEEK = 5  # "most days": from memory


def first_dose(known: Known, start: Intensity, strength: Start, age: int | None) -> dict[str, Any]:
    """First values of a first prescription, by the names of its form.

    Parameters
    ----------
    known : what was tested, what is present, what the site allows.
    start : the intensity chosen from it.
    strength : when resistance may be considered.
    age : [years]; None when the birth date is not known

    Returns
    -------
    Values by field name; None where nothing is proposed.

    Raises
    ------
    OutOfRange : a rate is impossible.

    References
    ----------
    As ``person.SOURCES``; flexibility, balance and home: ``dose``.
    """
    long = LONG_WARM_UP if known.present.transplant else USUAL_WARM_UP
    is_open = strength.is_open(known.on)
    test = known.test
    values: dict[str, Any] = {
        "method": start.method,
        "low_percent": round(100 * start.shares[0]),
        "high_percent": round(100 * start.shares[1]),
        "rpe_low": start.rpe[0],
        "rpe_high": start.rpe[1],
        "target_mets": start.mets,
        "peak_vo2": test.peak_vo2 if test else None,
        "minutes": MINUTES,
        "per_week": PER_WEEK,
        "warm_up_minutes": long,
        "cool_down_minutes": long,
        "strength": "familiarise" if is_open else "",
        "strength_from": None if is_open else strength.earliest,
        "strength_sets": SETS[0],
        "strength_days": DAYS_A_WEEK[0],
        "stretch_days": USUAL_STRETCH_DAYS,
        "stretch_hold_s": USUAL_HOLD_S,
        "balance_days": USUAL_BALANCE_DAYS if age is not None and age >= BALANCE_FROM_AGE else None,
        "home_days": HOME_DAYS,
        "home_minutes": MINUTES,
    }
    return values | _bounds(known, start)


def upper_limit_for(known: Known) -> tuple[int, str] | None:
    """The upper limit of the heart rate that a form begins with.

    Parameters
    ----------
    known : as in ``ceilings``.

    Returns
    -------
    The lowest limit [beats/min] and what sets it; None where only a tested peak is known, which a
    range stays under by itself, or nothing is.

    Raises
    ------
    OutOfRange : as ``ceilings``.

    References
    ----------
    As ``ceilings``.
    """
    limits = ceilings(known)
    if all(limit.source == SOURCES["tested peak"] for limit in limits):
        return None
    return int(limits[0].bpm), limits[0].reason


def _bounds(known: Known, start: Intensity) -> dict[str, Any]:
    """How far it may be raised under one signature: the published spans, never above a limit."""
    site, present, test = known.site, known.present, known.test
    is_lighter = present.heart_failure or present.transplant
    most_rpe = min(LIGHTER_RPE[1], site.highest_rpe) if is_lighter else site.highest_rpe
    usable = test if test is not None and not test.doubt else None
    most_bpm = most_mets = None
    if start.method == RESERVE and usable is not None and usable.peak_bpm is not None:
        rest = usable.resting_bpm if usable.resting_bpm is not None else known.resting_bpm
        top = heart_rate_at(rest or 0, usable.peak_bpm, site.highest_share)
        most_bpm = int(min([top, *[limit.bpm for limit in ceilings(known)]]))
    if usable is not None and usable.peak_vo2 is not None and is_capacity(usable.peak_vo2):
        most_mets = mets_between(usable.peak_vo2, (0, site.highest_share))[1]
    elif known.walk is not None:
        most_mets = known.walk.mean_mets
    if most_mets is not None and site.highest_mets is not None:
        most_mets = min(most_mets, site.highest_mets)
    return {
        "most_rpe": most_rpe,
        "most_bpm": most_bpm,
        "most_mets": None if most_mets is None else round(most_mets, 1),
        "most_minutes": site.most_minutes,
        "most_per_week": MOST_PER_WEEK,
        "most_strength": "moderate",
    }
