"""What is recorded about somebody, as the suggestions read it."""

from datetime import date

from patients.calc.suggestions import RECENT_DAYS, Background, Suggestion, suggestions
from patients.models import Patient


def suggestions_for(patient: Patient, today: date) -> list[Suggestion]:
    """Gaps and reminders from the background as it stands."""
    medicines = [m for m in patient.medicines.all() if not m.stopped_on]
    icds = [d for d in patient.devices.all() if d.kind == "icd" and not d.removed_on]
    operations = list(patient.procedures.all())
    recent = {o.access for o in operations if 0 <= (today - o.performed_on).days <= RECENT_DAYS}
    latest = max((o.performed_on for o in operations), default=date.min)
    kinds = {c.kind for c in patient.conditions.all()} | {o.kind for o in operations}
    return suggestions(
        Background(
            drug_classes={m.drug_class for m in medicines},
            has_medicines=bool(list(patient.medicines.all())),
            has_icd=bool(icds),
            icd_rate_known=all(d.detection_bpm for d in icds),
            recent_access=sorted(recent),
            precautions={
                p.kind
                for p in patient.precautions.all()
                if p.lifted_on is None or p.lifted_on > latest
            },
            is_transplanted="transplant" in kinds,
            allergies_asked=patient.has_no_allergies or bool(list(patient.allergies.all())),
            tobacco_asked=bool(patient.tobacco),
            emergency_contact_known=bool(patient.emergency_name and patient.emergency_phone),
            mobility_asked=bool(patient.mobility_aid),
        )
    )
