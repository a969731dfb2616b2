"""What an ambulance crew asks for first, of one person."""

from dataclasses import dataclass, field
from datetime import date

from django.db.models import Q

from patients.calc.days import in_words
from patients.models import Device, Patient
from programs.attendance.paper.known import record_with_hba1c
from programs.enrolment.calc import record as told
from programs.enrolment.calc.record import Record
from programs.prescription.models import Prescription


@dataclass
class Card:
    """One person in short lists. An empty list was not recorded; it never says "none"."""

    patient: Patient
    age: int
    has_course: bool = False
    dose: Prescription | None = None
    conditions: list[str] = field(default_factory=list)
    devices: list[str] = field(default_factory=list)
    medicines: list[str] = field(default_factory=list)
    allergies: list[str] = field(default_factory=list)


def card_of(patient: Patient, today: date) -> Card:
    """Everything of the card, as the record tells it today, wherever it was written."""
    record = record_with_hba1c(patient)
    course = patient.enrolments.filter(closed_on=None).first()
    taken = patient.medicines.filter(Q(stopped_on=None) | Q(stopped_on__gt=today))
    return Card(
        patient,
        patient.person.age_on(today),
        course is not None,
        course.prescriptions.in_force(today).first() if course else None,
        _conditions(patient, record, today),
        _devices(patient, record, today),
        [
            m.name if m.drug_class == "other" else f"{m.name} ({m.get_drug_class_display()})"
            for m in taken
        ],
        [str(allergy) for allergy in patient.allergies.filter(refuted_on=None)],
    )


def _conditions(patient: Patient, record: Record, today: date) -> list[str]:
    """Those listed, with their day; then what other places tell, and which."""
    rows = list(patient.conditions.all())
    found = []
    for row in rows:
        name = row.wording if row.kind in {"other", "unclear"} and row.wording else str(row)
        found.append(f"{name}, {in_words(row.happened_on)}" if row.happened_on else name)
    kinds = {row.kind for row in rows}
    elsewhere = {
        "heart_failure": ("heart failure", told.heart_failure(record)),
        "diabetes": ("diabetes", told.diabetes(record, today)),
    }
    for kind, (name, fact) in elsewhere.items():
        if fact and kind not in kinds:
            found.append(f"{name} (told by {fact.words})")
    return found


def _devices(patient: Patient, record: Record, today: date) -> list[str]:
    rows = patient.devices.filter(Q(removed_on=None) | Q(removed_on__gt=today))
    found = [_device(row) for row in rows]
    listed = any(row.kind == Device.Kind.ICD for row in rows)
    if not listed and (icd := told.defibrillator(record, today)):
        found.append(f"{Device.Kind.ICD.label} (told by {icd.words}), detection rate not recorded")
    return found


def _device(row: Device) -> str:
    """A rate with the day it was read; that a defibrillator has none on record is said."""
    if row.detection_bpm and row.detection_read_on:
        return f"{row}, read {in_words(row.detection_read_on)}"
    if row.kind == Device.Kind.ICD:
        return f"{row}, detection rate not recorded"
    return str(row)
