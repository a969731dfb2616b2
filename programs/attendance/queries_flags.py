"""Short words beside a name on Today: what matters before this person starts."""

from collections import defaultdict
from datetime import date
from typing import Any

from patients.models import Condition, Device, Medicine, Precaution
from programs.enrolment.models import Enrolment, SupervisionPolicy
from programs.prescription.calc.signature import is_late, next_signature_due

DUE_SOON_DAYS = 3


def flags_of(patients: list[int]) -> dict[int, list[str]]:
    """Short words about each person that matter on the floor."""
    flags: dict[int, list[str]] = defaultdict(list)
    words: dict[str, str] = {
        Medicine.DrugClass.INSULIN: "insulin",
        Medicine.DrugClass.SECRETAGOGUE: "secretagogue",
        Medicine.DrugClass.BETA_BLOCKER: "beta-blocker",
    }
    here = {"patient__in": patients}
    taken = Medicine.objects.filter(**here, stopped_on=None, drug_class__in=list(words))
    for patient, drug_class in taken.order_by("name", "pk").values_list("patient", "drug_class"):
        if words[drug_class] not in flags[patient]:
            flags[patient].append(words[drug_class])
    failing = Condition.objects.filter(**here, kind=Condition.Kind.HEART_FAILURE)
    for patient in failing.order_by().values_list("patient", flat=True):
        flags[patient].append("heart failure")
    devices = Device.objects.filter(**here, removed_on=None)
    for device in devices.only("patient", "kind", "detection_bpm"):
        flags[device.patient_id].append(str(device))
    precautions = Precaution.objects.filter(**here, lifted_on=None)
    for precaution in precautions.only("patient", "kind", "instruction"):
        flags[precaution.patient_id].append(str(precaution))
    return flags


def warnings_of(enrolment: Enrolment, doses: dict, signed: dict, on: date) -> list[str]:
    warnings = []
    if enrolment.next_review_on and (enrolment.next_review_on - on).days <= DUE_SOON_DAYS:
        late = enrolment.next_review_on < on
        when = "overdue" if late else f"due {enrolment.next_review_on:%a %-d %b}"
        warnings.append(f"{enrolment.next_review} {when}")
    due = next_signature_due(signed.get(enrolment.pk), enrolment.starts_on)
    if is_late(due, on):
        warnings.append("plan signature overdue")
    elif (due - on).days <= DUE_SOON_DAYS:
        warnings.append(f"plan signature due {due:%a %-d %b}")
    if enrolment.pk not in doses:
        warnings.append("no prescription")
    return warnings


def add_risk(row: Any, decided: str | None, meaning: dict[str, SupervisionPolicy]) -> None:
    """The class of risk, and whether ECG is still suggested at this session."""
    if decided is None:
        row.warnings.append("risk not stratified")
        return
    words = f"{decided} risk"
    until = meaning[decided].ecg_high
    if row.session_number <= until:
        words += f", ECG suggested to session {until}"
    row.flags.insert(0, words)
