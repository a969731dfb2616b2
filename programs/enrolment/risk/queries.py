"""What the record answers of the class of risk, and when to look at it again."""

from typing import Any

from patients.models import Patient
from programs.enrolment.calc.risk import still_standing


def stratify_again(patient: Patient) -> str:
    """Why the class of risk should be looked at again; "" when nothing happened since."""
    latest = patient.stratifications.first()
    return latest.why_again() if latest else ""


def answers_on_record(patient: Patient) -> dict[str, Any]:
    """What the record already answers; the rest stays unanswered. The clinician checks it all."""
    latest = patient.stratifications.first()
    known: dict[str, Any] = {"occasion": "other" if latest else "entry"}
    if latest is not None:
        known |= still_standing(latest.answers, latest.why_again())
    referral = patient.referrals.order_by("-referred_on", "-pk").first()
    if referral is not None:
        if referral.lvef_percent is not None and "lvef_percent" not in known:
            known["lvef_percent"] = f"{referral.lvef_percent:g}"
        if referral.nyha_class and "nyha_class" not in known:
            known["nyha_class"] = referral.nyha_class
    kinds = set(patient.conditions.values_list("kind", flat=True))
    devices = set(patient.devices.filter(removed_on=None).values_list("kind", flat=True))
    if "heart_failure" in kinds:
        known["heart_failure"] = True
    if "icd" in devices:
        known["icd"] = True
    if "pacemaker" in devices:
        known["pacemaker"] = True
    return known
