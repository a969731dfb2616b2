"""What prescribing reads: the newest results, the dose in force, devices."""

from datetime import date
from typing import Any

from assessments.calc.exercise_test import PEAK_VO2
from assessments.models import Measurement
from patients.models import Device
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
from programs.prescription.calc.intensity import UpperLimit, upper_limit
from programs.prescription.models import Prescription


def latest(enrolment: Enrolment) -> dict[str, Measurement]:
    """The newest standing result of each measure."""
    found = (
        Measurement.objects.standing()
        .filter(assessment__enrolment=enrolment, assessment__performed_on__isnull=False)
        .select_related("assessment")
        .order_by("assessment__performed_on", "pk")
    )
    return {measurement.key: measurement for measurement in found}


def offer_of(enrolment: Enrolment, results: dict[str, Measurement]) -> Offer:
    """What the newest results offer to a prescription, and every ischaemic threshold."""
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


def first_values_for(
    enrolment: Enrolment, current: Prescription | None, found: Offer
) -> dict[str, Any]:
    """First values of the form; all can be changed."""
    in_force = None
    if current is not None:
        in_force = InForce(current.valid_from, _carried(current))
    return first_values(found, in_force, _limit_of(enrolment, found))


# What a new prescription carries on from the one it replaces.
CARRIED = ["method", "peak_bpm", "tested_on", "rpe_low", "rpe_high", "minutes", "per_week"]
CARRIED += ["tested_because"]
CARRIED += ["upper_limit_bpm", "upper_limit_reason", "treadmill_grade_percent", "target_mets"]


def _carried(current: Prescription) -> dict[str, Any]:
    carried = {name: getattr(current, name) for name in CARRIED}
    if current.low_share is not None and current.high_share is not None:
        carried["low_percent"] = round(current.low_share * 100)
        carried["high_percent"] = round(current.high_share * 100)
    return carried


def _limit_of(enrolment: Enrolment, found: Offer) -> UpperLimit | None:
    """The lowest of the limits that devices and tests set."""
    devices = Device.objects.filter(patient=enrolment.patient, removed_on=None)
    rates = [device.detection_bpm for device in devices if device.detection_bpm]
    return upper_limit(
        icd_detection_bpm=min(rates) if rates else None, ischaemia_bpm=found.ischaemia_bpm
    )
