"""Writes to the person and the clinical background."""

import uuid
from datetime import date, datetime, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction

from patients.calc.days import in_words
from patients.calc.suggestions import ACCESS_TO_PRECAUTION, RECENT_DAYS
from patients.claims import claim
from patients.history import save_as
from patients.models import (
    Allergy,
    BodyWeight,
    Device,
    Medicine,
    Patient,
    Precaution,
    PrecautionProtocol,
    Procedure,
)


@transaction.atomic
def register(patient: Patient, *, by: Any) -> Patient:
    """Store a new patient; raises ValidationError when the record may not exist."""
    save_as(patient, by=by, reason="registered")
    return patient


@transaction.atomic
def change_person(patient: Patient, *, seen: int, key: uuid.UUID | None = None, by: Any) -> None:
    """Save corrected details; raises StaleVersion when somebody else saved in between."""
    claim(key, by=by)
    Patient.objects.select_for_update().get(pk=patient.pk).check_version(seen)
    if patient.has_no_allergies and patient.allergies.filter(refuted_on=None).exists():
        raise ValidationError("An allergy is on record; refute it first.")
    save_as(patient, by=by, reason="corrected")


@transaction.atomic
def add_background(row: models.Model, *, key: uuid.UUID | None = None, by: Any) -> None:
    """Store a row of the background; raises AlreadyTaken the second time.

    An operation brings the site's precaution for its way in, with a day on which a clinician
    reviews it. An allergy takes "no allergies known" back.
    """
    claim(key, by=by)
    save_as(row, by=by, reason="added")
    if isinstance(row, Procedure):
        _follow_protocol(row, by=by)
    if isinstance(row, Allergy) and row.patient.has_no_allergies:
        row.patient.has_no_allergies = False
        save_as(row.patient, by=by, reason="an allergy was added")


def _follow_protocol(operation: Procedure, *, by: Any) -> None:
    today = operation.patient.site.today()
    if (today - operation.performed_on).days > RECENT_DAYS:
        return  # long healed; whoever thinks otherwise adds a precaution by hand
    kind = ACCESS_TO_PRECAUTION.get(operation.access)
    protocol = PrecautionProtocol.objects.filter(
        site=operation.patient.site_id, access=operation.access
    ).first()
    if kind is None or protocol is None:
        return
    review_on = operation.performed_on + timedelta(days=protocol.days)
    standing = operation.patient.precautions.filter(kind=kind, lifted_on=None).first()
    if standing is not None:  # operated on again: the later review day holds
        if standing.review_on is None or standing.review_on < review_on:
            standing.review_on = review_on
            save_as(standing, by=by, reason="operated on again")
    else:
        row = Precaution(
            patient=operation.patient,
            kind=kind,
            instruction=protocol.instruction,
            review_on=review_on,
        )
        save_as(row, by=by, reason="site protocol; the surgeon’s limits come first")


@transaction.atomic
def weigh(
    patient_id: int,
    kg: float | None,
    on: date,
    at: datetime | None = None,
    *,
    known: BodyWeight | None = None,
    reason: str = "",
    by: Any,
) -> BodyWeight | None:
    """Keep one weighing in step with the reading or result that it was typed into.

    Parameters
    ----------
    kg : weight. [kg]; None when the reading was emptied or entered in error
    at : the hour, where it is known
    known : the weighing this very reading wrote before

    Returns
    -------
    The weighing to keep with the reading; None when there never was one.

    Raises
    ------
    ValidationError : the weight is impossible.
    """
    if known is None and kg is None:
        return None
    row = known or BodyWeight(patient_id=patient_id)
    fresh: dict[str, Any] = {"on": on, "at": at, "is_withdrawn": kg is None}
    if kg is not None:
        fresh["kg"] = kg
    if row.pk is None or any(getattr(row, name) != value for name, value in fresh.items()):
        for name, value in fresh.items():
            setattr(row, name, value)
        save_as(row, by=by, reason=reason)
    return row


def _once(ended_on: date | None) -> None:
    """Raise ValidationError when the row was ended before: its first day stands."""
    if ended_on is not None:
        raise ValidationError(f"This was ended already, on {in_words(ended_on)}.")


@transaction.atomic
def stop_medicine(medicine: Medicine, on: date, *, by: Any) -> None:
    """The medicine is not taken any more."""
    _once(medicine.stopped_on)
    medicine.stopped_on = on
    save_as(medicine, by=by, reason="stopped")


@transaction.atomic
def end_device(device: Device, on: date, *, by: Any) -> None:
    """The device was removed or switched off."""
    _once(device.removed_on)
    device.removed_on = on
    save_as(device, by=by, reason="removed or switched off")


@transaction.atomic
def refute_allergy(allergy: Allergy, on: date, *, by: Any) -> None:
    """Tested, or a mistake: kept on record as refuted."""
    _once(allergy.refuted_on)
    allergy.refuted_on = on
    save_as(allergy, by=by, reason="refuted")


@transaction.atomic
def read_detection_rate(device: Device, bpm: int, on: date, *, by: Any) -> None:
    """The lowest detection rate, with the day it was read; earlier ones stay in the history."""
    device.detection_bpm, device.detection_read_on = bpm, on
    save_as(device, by=by, reason="detection rate read")


@transaction.atomic
def lift_precaution(precaution: Precaution, on: date, *, by: Any, reason: str) -> None:
    """A clinician lifts a precaution; a date alone never does."""
    _once(precaution.lifted_on)
    precaution.lifted_on = on
    save_as(precaution, by=by, reason=reason)


@transaction.atomic
def review_precaution(precaution: Precaution, review_on: date, *, by: Any) -> None:
    """Looked at, and it stays until the next review."""
    _once(precaution.lifted_on)
    precaution.review_on = review_on
    save_as(precaution, by=by, reason="reviewed; it stays")
