"""What is due or missing in somebody's record when a session begins, in short words."""

from datetime import date

from assessments.calc.schedule import Due
from patients.calc.days import short_weekday
from programs.prescription.calc.signature import is_late

DUE_SOON_DAYS = 3


def warnings_of(
    assessment: Due | None, signature_due_on: date, has_dose: bool, on: date
) -> list[str]:
    """Reassessment, plan signature and prescription, each only when somebody must act."""
    warnings = []
    if assessment is not None and (assessment.on - on).days <= DUE_SOON_DAYS:
        when = "overdue" if assessment.on < on else f"due {short_weekday(assessment.on, on)}"
        warnings.append(f"{assessment.name} {when}")
    if is_late(signature_due_on, on):
        warnings.append("plan signature overdue")
    elif (signature_due_on - on).days <= DUE_SOON_DAYS:
        warnings.append(f"plan signature due {short_weekday(signature_due_on, on)}")
    if not has_dose:
        warnings.append("no prescription")
    return warnings
