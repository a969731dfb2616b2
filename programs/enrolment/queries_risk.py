"""Reads about the class of risk: the latest of each person, and when to look at it again."""

from collections.abc import Collection

from patients.models import Patient
from programs.enrolment.models import RiskStratification


def latest_risks(patients: Collection[int]) -> dict[int, str]:
    """The class in force of each person, by patient key; nobody stratified is missing here."""
    found = RiskStratification.objects.filter(patient__in=patients).order_by("at", "pk")
    return dict(found.values_list("patient", "decided"))  # later ones take the place


def stratify_again(patient: Patient) -> str:
    """Why the class of risk should be looked at again; "" when nothing happened since."""
    latest = patient.stratifications.first()
    if latest is None:
        return ""
    since = latest.at.astimezone(patient.site.now().tzinfo).date()
    if patient.conditions.filter(happened_on__gt=since).exists():
        return "There was a new event since."
    devices = list(patient.devices.filter(removed_on=None))
    is_new = any(d.implanted_on and d.implanted_on > since for d in devices)
    has_icd = any(d.kind == "icd" for d in devices)
    if is_new or (has_icd and not latest.answers.get("icd")):
        return "A device was added since."
    return ""
