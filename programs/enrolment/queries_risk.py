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
    return latest.why_again() if latest else ""
