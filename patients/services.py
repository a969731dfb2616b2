"""Writes to the person and the clinical background."""

import uuid
from datetime import date
from typing import Any

from django.db import transaction

from patients.history import save_as
from patients.models import Condition, Device, Medicine, Patient, Precaution
from patients.submissions import claim

BackgroundRow = Condition | Medicine | Device | Precaution


@transaction.atomic
def register(patient: Patient, *, by: Any) -> Patient:
    """Store a new patient; raises ValidationError when the record may not exist."""
    save_as(patient, by=by, reason="registered")
    return patient


@transaction.atomic
def add_background(row: BackgroundRow, *, key: uuid.UUID | None = None, by: Any) -> None:
    """Store a condition, medicine, device or precaution; raises AlreadyTaken the second time."""
    claim(key, by=by)
    save_as(row, by=by, reason="added")


@transaction.atomic
def stop_medicine(medicine: Medicine, on: date, *, by: Any) -> None:
    medicine.stopped_on = on
    save_as(medicine, by=by, reason="stopped")


@transaction.atomic
def lift_precaution(precaution: Precaution, on: date, *, by: Any, reason: str) -> None:
    """A clinician lifts a precaution; a date alone never does."""
    precaution.lifted_on = on
    save_as(precaution, by=by, reason=reason)
