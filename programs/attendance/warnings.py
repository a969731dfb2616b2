"""What is due or missing in somebody's record when a session begins, in short words."""

from datetime import date

from programs.attendance.queries_facts import Planned
from programs.enrolment.calc.reviews import review_on
from programs.prescription.calc.signature import is_late, next_signature_due

DUE_SOON_DAYS = 3


def warnings_of(
    planned: Planned, last_signed_on: date | None, has_dose: bool, on: date
) -> list[str]:
    """Reassessment, plan signature and prescription, each only when somebody must act."""
    warnings = []
    review = review_on(planned.reviews_ahead, on)
    if review is not None and (review.due_on - on).days <= DUE_SOON_DAYS:
        when = "overdue" if review.due_on < on else f"due {review.due_on:%a %-d %b}"
        warnings.append(f"{review.name} {when}")
    due = next_signature_due(last_signed_on, planned.starts_on)
    if is_late(due, on):
        warnings.append("plan signature overdue")
    elif (due - on).days <= DUE_SOON_DAYS:
        warnings.append(f"plan signature due {due:%a %-d %b}")
    if not has_dose:
        warnings.append("no prescription")
    return warnings
