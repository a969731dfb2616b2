"""The one audit writer. Versions of rows are kept by their history; this adds the rest."""

from collections.abc import Iterable
from typing import Any

from patients.models import AuditEvent, Patient


def record(kind: AuditEvent.Kind, what: str, *, by: Any, patient: Patient | None = None) -> None:
    """Write who did what, now, about whom."""
    user = by if getattr(by, "pk", None) else None
    AuditEvent.objects.create(kind=kind, what=what[:200], user=user, patient=patient)


def look(patient: Patient, page: str, *, by: Any) -> None:
    """Record that somebody opened a page about a patient."""
    record(AuditEvent.Kind.LOOK, page, by=by, patient=patient)


def looks(patients: Iterable[int], page: str, *, by: Any) -> None:
    """Record that somebody opened a page about several patients, by their numbers. One query."""
    kind = AuditEvent.Kind.LOOK
    AuditEvent.objects.bulk_create(
        AuditEvent(kind=kind, what=page[:200], user=by, patient_id=pk) for pk in patients
    )
