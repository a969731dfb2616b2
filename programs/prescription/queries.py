"""What prescribing reads: the newest results, the dose in force, devices."""

from datetime import date
from typing import Any

from assessments.calc.exercise_test import PEAK_VO2
from assessments.models import Measurement
from patients.prepared import Prepared
from programs.enrolment.models import Enrolment
from programs.prescription.calc.from_results import (
    ISCHAEMIA_BPM,
    Found,
    InForce,
    Ischaemia,
    Offer,
    first_values,
    offer,
)
from programs.prescription.calc.intensity import UpperLimit
from programs.prescription.models import Prescription

_DOSE = Prepared(
    lambda enrolment, on: Prescription.objects.in_force(on).filter(enrolment=enrolment)[:1],
    enrolment=int,
    on=date,
)


def dose_on(enrolment: int, on: date) -> Prescription | None:
    """The prescription in force at the end of a day."""
    return next(iter(_DOSE(enrolment=enrolment, on=on)), None)


def latest(enrolment: Enrolment) -> dict[str, Measurement]:
    """The newest standing result of each measure."""
    found = (
        Measurement.objects.standing()
        .filter(assessment__enrolment=enrolment, assessment__performed_on__isnull=False)
        .select_related("assessment")
        .order_by("assessment__performed_on", "pk")
    )
    return {measurement.key: measurement for measurement in found}


def offer_of(enrolment: Enrolment, results: dict[str, Measurement] | None = None) -> Offer:
    """What the newest results offer to a prescription, and every ischaemic threshold."""
    results = latest(enrolment) if results is None else results
    found = {
        key: Found(
            m.value,
            m.inputs,
            m.derived_values,
            m.assessment.performed_on,
            m.measure.name,
            m.shown,
        )
        for key, m in results.items()
        if m.assessment.performed_on is not None
    }
    return offer(found, _ischaemia(enrolment))


def event_on(enrolment: Enrolment) -> date | None:
    """The day of the qualifying event; None where it is not known."""
    day: date | None = enrolment.referral.condition.happened_on
    return day


def _ischaemia(enrolment: Enrolment) -> list[Ischaemia]:
    """Thresholds since the qualifying event, of earlier courses too."""
    found = Measurement.objects.standing().filter(
        assessment__enrolment__patient=enrolment.patient_id,
        assessment__performed_on__isnull=False,
        key=PEAK_VO2.key,
    )
    since = event_on(enrolment)
    if since is not None:  # an event without a day ends no threshold
        found = found.filter(assessment__performed_on__gte=since)
    return [
        Ischaemia(round(float(inputs[ISCHAEMIA_BPM])), on)
        for inputs, on in found.values_list("inputs", "assessment__performed_on")
        if inputs.get(ISCHAEMIA_BPM) is not None
    ]


# What a new prescription carries on from the one it replaces.
CARRIED = ["method", "peak_bpm", "tested_on", "rpe_low", "rpe_high", "minutes", "per_week"]
CARRIED += ["tested_because", "peak_vo2", "above_because", "resting_bpm"]
CARRIED += ["upper_limit_bpm", "upper_limit_reason", "treadmill_grade_percent", "target_mets"]
PARTS = ["warm_up_minutes", "cool_down_minutes", "strength", "strength_from", "strength_sets"]
PARTS += ["strength_days", "stretch_days", "stretch_hold_s", "balance_days", "home_days"]
PARTS += ["home_minutes"]
BOUNDS = ["most_rpe", "most_bpm", "most_mets", "most_minutes", "most_per_week", "most_strength"]


def first_values_for(
    current: Prescription | None,
    found: Offer,
    limit: UpperLimit | None,
    drafted: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """First values of the form; all can be changed."""
    return first_values(found, in_force_of(current), limit, drafted)


def in_force_of(current: Prescription | None) -> InForce | None:
    """The dose in force as a new one sees it."""
    return InForce(current.valid_from, _carried(current)) if current is not None else None


def _carried(current: Prescription) -> dict[str, Any]:
    carried = {name: getattr(current, name) for name in [*CARRIED, *PARTS, *BOUNDS]}
    if current.low_share is not None and current.high_share is not None:
        carried["low_percent"] = round(current.low_share * 100)
        carried["high_percent"] = round(current.high_share * 100)
    chosen = [load for load in current.loads if load["minutes"]]
    return carried | {f"minutes_{load['kind']}": load["minutes"] for load in chosen}
