"""What test results offer to a prescription: first values, each with where it comes from.

Nothing here decides: a clinician sees every value in the form and may change it. A measured
capacity comes before an estimated one, and that before a walk. These orders, and what is compared
with what, are a project choice; the share of the reserve is ``USUAL_START``, that of a walk
``WALK_START``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from assessments.calc.exercise_test import CHRONOTROPIC, PEAK_VO2, VENTILATORY_SLOPE
from assessments.calc.measure import Inputs
from assessments.calc.metabolic import treadmill, walking_speed_for
from assessments.calc.peak_work import PEAK_WORK
from assessments.calc.six_minute_walk import SIX_MINUTE_WALK
from assessments.calc.submaximal import CYCLE_STAGES, SINGLE_STAGE
from assessments.calc.vitals import HEART_RATE
from patients.calc.days import in_words
from patients.calc.limits import VO2_ML_KG_MIN
from programs.prescription.calc.intensity import (
    RESTING_VO2,
    USUAL_START,
    UpperLimit,
    mets_between,
)

# Of the mean speed of a six-minute walk, to begin with: the whole of it is what somebody did in a
# test of six minutes, not what is kept up for thirty. Zainuldin 2015, J Cardiopulm Rehabil Prev
# 35:65-69, in COPD, from memory; in heart disease common practice, no source.
WALK_START = 0.80
REST_DIFFERS_BPM = 10  # a pulse at rest so far from the dose's own is told (project choice)
ISCHAEMIA_BPM = "ischaemia_bpm"  # the input of the exercise test


@dataclass(frozen=True)
class Found:
    """The newest standing result of one measure."""

    value: float | None
    inputs: Inputs
    derived: Mapping[str, float]  # by key
    on: date
    name: str
    shown: str


@dataclass(frozen=True)
class RatesTested:
    """A rest and a peak measured in one exercise test."""

    resting_bpm: int | None
    peak_bpm: int
    on: date


@dataclass(frozen=True)
class Resting:
    """A rate measured at rest, and its day. [beats/min]"""

    bpm: int
    on: date


@dataclass(frozen=True)
class Work:
    """Work to start with, and the day of its test."""

    mets: float  # lower end of the usual start, or what a share of the walking speed costs
    on: date
    is_capacity: bool  # else from a walk, which says what was done, not what could be
    named_above: float  # work in force above this is named: of a walk, its whole mean cost [METs]
    peak_vo2: float | None = None  # of a capacity [mL/kg/min]


@dataclass(frozen=True)
class Ischaemia:
    """A rate at which ischaemia began. [beats/min]"""

    bpm: int
    on: date


@dataclass(frozen=True)
class Offer:
    """First values for a prescription. None where no result gives one."""

    tested: RatesTested | None
    resting: Resting | None
    work: Work | None
    ischaemia_bpm: float | None
    threshold_bpm: float | None
    lines: tuple[str, ...]  # what the tests say, for the page


Results = Mapping[str, Found]
CAPACITIES = (PEAK_VO2.key, PEAK_WORK.key, CYCLE_STAGES.key, SINGLE_STAGE.key)


def offer(results: Results, ischaemia: Sequence[Ischaemia] = ()) -> Offer:
    """What the newest results offer to a prescription.

    A test that notes no ischaemic threshold takes none back: an exercise test that ended earlier,
    or was read without an ECG, shows none either. So the lowest counts until somebody decides.

    Parameters
    ----------
    results : newest standing result by key of its measure; what is missing offers nothing.
    ischaemia : every standing threshold since the qualifying event. [beats/min]

    Returns
    -------
    Rates [beats/min] and work [METs], each None where no result gives it, and lines for the page;
    the lowest threshold of all.
    """
    lines: list[str] = []
    test, rest = results.get(PEAK_VO2.key), results.get(HEART_RATE.key)
    work = _work(results, lines)
    lowest = _lowest(test, ischaemia)
    threshold = _whole(test, "vt1_bpm")
    if test is not None and threshold is not None:
        share = test.derived.get("first_threshold_percent")
        at = f", {share:.0f} % of the peak uptake" if share is not None else ""
        lines.append(f"First threshold at {threshold} /min{at} ({in_words(test.on)}).")
    if lowest is not None:
        lines.append(f"Ischaemic threshold at {lowest.bpm} /min ({in_words(lowest.on)}).")
        lines += _newer_without(test, lowest)
    slope = results.get(VENTILATORY_SLOPE.key)
    if slope is not None:
        lines.append(f"{slope.name} {slope.shown}.")
    resting = None
    if rest is not None and rest.value is not None:
        resting = Resting(round(rest.value), rest.on)
    bpm = lowest.bpm if lowest is not None else None
    return Offer(_tested(results), resting, work, bpm, threshold, tuple(lines))


def _lowest(test: Found | None, ischaemia: Sequence[Ischaemia]) -> Ischaemia | None:
    own = _whole(test, ISCHAEMIA_BPM)
    known = [*ischaemia]
    if test is not None and own is not None:
        known.append(Ischaemia(own, test.on))
    return min(known, key=lambda found: found.bpm, default=None)


def _newer_without(test: Found | None, lowest: Ischaemia) -> list[str]:
    """That a newer test says otherwise, and what ends the older threshold."""
    if test is None or test.on <= lowest.on:
        return []
    newer = _whole(test, ISCHAEMIA_BPM)
    said = "notes none" if newer is None else f"notes {newer} /min"
    return [
        f"The newer test ({in_words(test.on)}) {said}; the lowest since the event counts until "
        "an upper limit above it is given with its reason."
    ]


def _whole(found: Found | None, key: str) -> int | None:
    value = found.inputs.get(key) if found is not None else None
    return None if value is None else round(float(value))


def _tested(results: Results) -> RatesTested | None:
    """The newest test with a peak heart rate, of one day that with a rest too; none predicted."""
    keys = (PEAK_VO2.key, PEAK_WORK.key, CHRONOTROPIC.key)
    tests = [results[key] for key in keys if key in results]
    with_peak = [(test, peak) for test in tests if (peak := _whole(test, "peak_bpm")) is not None]
    if not with_peak:
        return None

    def worth(found: tuple[Found, int]) -> tuple[date, bool]:
        return found[0].on, _whole(found[0], "resting_bpm") is not None

    test, peak = max(with_peak, key=worth)
    return RatesTested(_whole(test, "resting_bpm"), peak, test.on)


def _work(results: Results, lines: list[str]) -> Work | None:
    """Work to start with: from a capacity, else from the walk."""
    for key in CAPACITIES:
        found = results.get(key)
        if found is None or found.value is None or found.value <= RESTING_VO2:
            continue
        said = f"{found.name} {found.shown} mL/kg/min ({in_words(found.on)}): "
        if found.value > VO2_ML_KG_MIN.high:
            lines.append(f"{said}above {VO2_ML_KG_MIN.high:g}, so no work is taken from it.")
            continue
        low, high = mets_between(found.value, USUAL_START)
        span = f"{100 * USUAL_START[0]:.0f} to {100 * USUAL_START[1]:.0f} % of the uptake reserve"
        lines.append(f"{said}{span} is {low:.1f} to {high:.1f} METs.")
        return Work(round(low, 1), found.on, True, round(low, 1), found.value)
    walk = results.get(SIX_MINUTE_WALK.key)
    cost = walk.derived.get("mean_mets") if walk is not None else None
    if walk is None or cost is None:
        return None
    start = treadmill(WALK_START * walking_speed_for(cost)).mets
    lines.append(
        f"Mean cost of the six-minute walk ({in_words(walk.on)}): {cost:.1f} METs; "
        f"{100 * WALK_START:.0f} % of its speed, to begin with: {start:.1f} METs."
    )
    return Work(round(start, 1), walk.on, False, round(cost, 1))


@dataclass(frozen=True)
class InForce:
    """The dose in force: since when, and the form's values that a new one carries on."""

    since: date
    values: Mapping[str, Any]


def first_values(
    found: Offer,
    in_force: InForce | None,
    limit: UpperLimit | None,
    drafted: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """First values of a new prescription, by the names of its form.

    What was measured after the dose in force was written comes before what it carries on. A walk
    never lowers the work in force: it shows what was done, not what could be done. The upper limit
    changes only to a lower one. A rate at rest alone changes no range: rest and peak are of one
    test, and a faster pulse at rest would raise the target by itself (``resting_since`` names it).

    Parameters
    ----------
    found : what the newest results offer.
    in_force : the dose that the new one replaces; None for the first.
    limit : the lowest upper limit that devices and tests set. [beats/min]; None when none is known
    drafted : a first dose's own values by field name, as far as the record tells; of a dose that
        replaces another only the way a new test is used.

    Returns
    -------
    Values by field name; what nothing is known of is left out.
    """
    values: dict[str, Any] = {"method": "exertion"}
    way = drafted["method"] if drafted is not None else "reserve"
    if drafted is not None and in_force is None:
        values |= drafted
    since = date.min
    if in_force is not None:
        values |= in_force.values
        since = in_force.since
    resting = found.resting.bpm if found.resting is not None else None
    if resting is not None and values.get("resting_bpm") is None:
        values["resting_bpm"] = resting
    work, carried = found.work, values.get("target_mets")
    if work is not None and (carried is None or work.on > since):
        raises = carried is None or work.is_capacity or work.mets > carried
        values["target_mets"] = work.mets if raises else carried
    tested, known_on = found.tested, values.get("tested_on")
    if tested is not None and tested.on > max(since, known_on or date.min):
        values |= {"method": way, "peak_bpm": tested.peak_bpm, "tested_on": tested.on}
        values["tested_because"] = ""  # it spoke of the test before
        values["resting_bpm"] = tested.resting_bpm or resting or values.get("resting_bpm")
    known = values.get("upper_limit_bpm")
    if limit is not None and (known is None or limit.bpm < known):
        values |= {"upper_limit_bpm": round(limit.bpm), "upper_limit_reason": limit.reason}
    return values


def resting_since(found: Offer, in_force: InForce | None) -> Resting | None:
    """A rate at rest measured since the dose in force was written, when it is another.

    Parameters
    ----------
    found : what the newest results offer.
    in_force : the dose in force; None for none.

    Returns
    -------
    The rate and its day. [beats/min]; None when the dose was not written on a rate at rest, or
    when it differs by less than ``REST_DIFFERS_BPM``.
    """
    newest, known = found.resting, in_force.values.get("resting_bpm") if in_force else None
    if newest is None or in_force is None or known is None:
        return None
    differs = abs(newest.bpm - known) >= REST_DIFFERS_BPM
    return newest if newest.on > in_force.since and differs else None


def threshold_below(high_bpm: float | None, found: Offer) -> float | None:
    """The first threshold, when the upper end of a range lies above it.

    Parameters
    ----------
    high_bpm : upper end of the range. [beats/min]; None when none is prescribed
    found : what the newest results offer.

    Returns
    -------
    The threshold. [beats/min]; None when the range stays at or below it, or it is not known.
    """
    threshold = found.threshold_bpm
    is_above = high_bpm is not None and threshold is not None and high_bpm > threshold
    return threshold if is_above else None


def exceeding(target_mets: float | None, found: Offer) -> float | None:
    """The work in force, when it lies above what the newest tests show.

    Of a walk that is its whole mean cost: to go beyond the start is progression.

    Parameters
    ----------
    target_mets : work of the dose in force. [METs]; None when none is prescribed
    found : what the newest results offer.

    Returns
    -------
    The work. [METs]; None when it lies no higher, or either is not known.
    """
    if target_mets is None or found.work is None:
        return None
    return target_mets if target_mets > found.work.named_above else None
