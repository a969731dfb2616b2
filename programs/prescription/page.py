"""What the page of a prescription shows: the draft with its reasons, and what is in force."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from assessments.calc.metabolic import met_band
from patients.calc.person import Person
from patients.models import BodyWeight, Device
from programs.enrolment.calc import record as told
from programs.enrolment.calc.record import Record
from programs.enrolment.models import Enrolment
from programs.prescription.calc.ceilings import ceilings
from programs.prescription.calc.choosing import Intensity, choose
from programs.prescription.calc.dose import (
    WEEKLY_KCAL,
    Signed,
    beyond,
    beyond_bounds,
    volume_of_week,
)
from programs.prescription.calc.first_dose import first_dose, upper_limit_for
from programs.prescription.calc.from_results import (
    Offer,
    exceeding,
    resting_since,
    threshold_below,
)
from programs.prescription.calc.intensity import (
    UpperLimit,
    band_of,
    band_of_peak,
    band_of_rpe,
)
from programs.prescription.calc.person import Known
from programs.prescription.calc.strength import BY_KEY, Start
from programs.prescription.models import DosePolicy, Prescription
from programs.prescription.policy.queries import policy_of
from programs.prescription.queries import first_values_for, in_force_of, offer_of
from programs.prescription.queries_known import (
    known_for,
    record_for,
    review_of,
    strength_start,
)
from programs.prescription.queries_signed import bounds_of, dose_of, signed_of, signed_row
from programs.prescription.working_out import limits_passed


@dataclass(frozen=True)
class Drafted:
    """All that a first prescription of somebody is drafted from, and the draft."""

    record: Record
    found: Offer
    policy: DosePolicy
    known: Known
    intensity: Intensity
    strength: Start


def drafted_for(enrolment: Enrolment) -> Drafted:
    """The draft of a first prescription, whether or not one is in force."""
    record, policy = record_for(enrolment), policy_of(enrolment.patient.site)
    found = offer_of(enrolment)
    known = known_for(enrolment, found, record, policy.limits())
    return Drafted(record, found, policy, known, choose(known), strength_start(enrolment))


def initial_of(enrolment: Enrolment, current: Prescription | None, one: Drafted) -> dict[str, Any]:
    """First values of the form: of the draft, else of the dose in force and what is newer."""
    patient = enrolment.patient
    age = Person(born_on=patient.born_on, sex=patient.sex).age_on(one.known.on)
    values = first_dose(one.known, one.intensity, one.strength, age)
    limit = upper_limit_for(one.known)
    upper = UpperLimit(*limit) if limit is not None else None
    return first_values_for(current, one.found, upper, values)


def page_of(enrolment: Enrolment, current: Prescription | None, one: Drafted) -> dict[str, Any]:
    """Everything beside the form."""
    patient, on = enrolment.patient, one.known.on
    weighed = BodyWeight.objects.newest_of(patient.pk)
    signed = signed_row(enrolment)
    return {
        "enrolment": enrolment,
        "patient": patient,
        "offer": one.found,
        "exceeds": exceeding(current.target_mets if current else None, one.found),
        "weight_kg": weighed.kg if weighed else None,
        "weighed": weighed,
        "doses": list(enrolment.prescriptions.select_related("by", "signed_by")),
        "current": current,
        "on_beta_blocker": one.known.present.beta_blocker,
        "devices": list(Device.objects.filter(patient=patient, removed_on=None)),
        "reasons": [line for line in one.intensity.lines if not line.is_of_work],
        "strength": one.strength,
        "review": review_of(enrolment, current, one.record),
        "rested": resting_since(one.found, in_force_of(current)),
        "reread": read_since(current, one.record, on),
        "allowed": signed_of(signed),
        "signed": signed,
        "policy": one.policy,
    }


def read_since(current: Prescription | None, record: Record, on: date) -> date | None:
    """Day a detection rate was read after the dose in force was written."""
    if current is None:
        return None
    written_on = current.at.astimezone(current.enrolment.patient.site.now().tzinfo).date()
    read_on = told.detection_read_on(record, on)
    return read_on if read_on is not None and read_on > written_on else None


def worked_of(draft: Prescription, weight_kg: float | None) -> dict[str, Any]:
    """What a dose comes to while it is typed: ranges, machines, what it passes, who must sign."""
    one = drafted_for(draft.enrolment)
    allowed = signed_of(signed_row(draft.enrolment))
    return {
        "draft": draft,
        "weight_kg": weight_kg,
        "threshold_bpm": threshold_below(draft.high_bpm, one.found),
        "bands": bands_of(draft),
        "passes": limits_passed(draft, one.known, one.strength),
        "beyond": lies_beyond(draft, allowed),
        "goes_on": one.policy.unsigned_goes_on,
        "limits": ceilings(one.known),
        "week": volume_of_week(dose_of(draft), weight_kg),
        "weekly_kcal": WEEKLY_KCAL,
        "stage": BY_KEY.get(draft.strength),
    }


def lies_beyond(draft: Prescription, allowed: Signed | None) -> tuple[str, ...]:
    """What of a dose or of its limits a physician has not signed."""
    told = beyond(dose_of(draft), allowed)
    return told + (beyond_bounds(bounds_of(draft), allowed) if allowed is not None else ())


def bands_of(draft: Prescription) -> list[str]:
    """How hard that is, by each scale there is: reserve, tested peak, RPE, METs."""
    ends = (draft.low_bpm, draft.high_bpm)
    found = [_said(f"RPE {draft.rpe_low}–{draft.rpe_high}", draft_bands(draft))]
    if draft.method in {Prescription.Method.RESERVE, Prescription.Method.UPTAKE}:
        shares = [share for share in (draft.low_share, draft.high_share) if share is not None]
        words = f"{'–'.join(f'{100 * share:.0f}' for share in shares)} % of the reserve"
        found.append(_said(words, [band_of(share).name for share in shares]))
    if draft.peak_bpm and draft.low_bpm is not None and draft.high_bpm is not None:
        names = [band_of_peak(bpm, draft.peak_bpm).name for bpm in ends if bpm is not None]
        shares = [bpm / draft.peak_bpm for bpm in ends if bpm is not None]
        words = f"{'–'.join(f'{100 * share:.0f}' for share in shares)} % of the tested peak"
        found.append(_said(words, names))
    if draft.target_mets is not None:
        found.append(_said(f"{draft.target_mets:g} METs", [met_band(draft.target_mets)]))
    return found


def draft_bands(draft: Prescription) -> list[str]:
    """The effort bands of both ends of the RPE."""
    return [band_of_rpe(rpe).name for rpe in (draft.rpe_low, draft.rpe_high)]


def _said(words: str, bands: list[str]) -> str:
    return f"{words} {' to '.join(dict.fromkeys(bands))}"
