"""Tables of this room, one file a subject."""

from patients.models.background import (
    Allergy,
    Condition,
    Device,
    Medicine,
    Precaution,
    PrecautionProtocol,
    Procedure,
)
from patients.models.find import FindKey
from patients.models.person import Patient, PatientQuerySet
from patients.models.record_keeping import AuditEvent, Submission
from patients.models.weight import BodyWeight

__all__ = [
    "Allergy",
    "AuditEvent",
    "BodyWeight",
    "Condition",
    "Device",
    "FindKey",
    "Medicine",
    "Patient",
    "PatientQuerySet",
    "Precaution",
    "PrecautionProtocol",
    "Procedure",
    "Submission",
]
