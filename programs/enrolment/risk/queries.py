"""When to look at somebody's class of risk again."""

from patients.models import Patient


def stratify_again(patient: Patient) -> str:
    """Why the class of risk should be looked at again; "" when nothing happened since."""
    latest = patient.stratifications.first()
    return latest.why_again() if latest else ""
