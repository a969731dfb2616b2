"""Writes to prescriptions."""

import uuid

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from patients import audit
from patients.claims import claim
from patients.history import save_as
from patients.models import AuditEvent
from programs.enrolment.models import Enrolment
from programs.prescription.calc.dose import beyond, beyond_bounds
from programs.prescription.calc.strength import BY_KEY
from programs.prescription.models import Prescription
from programs.prescription.policy.queries import policy_of
from programs.prescription.queries import offer_of
from programs.prescription.queries_known import basis_now, known_for, record_for, strength_start
from programs.prescription.queries_signed import bounds_of, dose_of, signed_of, signed_row
from programs.prescription.signing import SIGN, may_sign
from programs.prescription.working_out import ask_why_above, work_out
from programs.staff.models import User


@transaction.atomic
def prescribe(
    draft: Prescription, weight_kg: float | None, *, key: uuid.UUID | None = None, by: User
) -> Prescription:
    """Compute the ranges and store the next prescription, in force as far as what is signed allows.

    ``draft`` holds what was typed. A physician signs by prescribing. Inside the signed limits it is
    in force from its day on; beyond them it waits for a physician, or goes on unsigned where the
    site decided so.

    Raises
    ------
    AlreadyTaken : this very form was stored before.
    ValidationError : the numbers do not fit together, or pass a limit without a reason; nothing is
        stored.
    """
    claim(key, by=by)
    course = Enrolment.objects.select_for_update().get(pk=draft.enrolment_id)
    site = draft.enrolment.patient.site
    policy, record = policy_of(site), record_for(course)
    work_out(draft, weight_kg)
    _check_lifts(draft)
    known = known_for(draft.enrolment, offer_of(draft.enrolment), record, policy.limits())
    ask_why_above(draft, known, strength_start(draft.enrolment))
    for old in course.prescriptions.in_force(draft.valid_from):
        _keep_upper_limit(old, draft)
    draft.by = by
    draft.basis = basis_now(draft.enrolment, record, site.today()).stored()
    if not by.has_perm(SIGN):
        _cover(draft, signed_row(course), goes_on=policy.unsigned_goes_on)
    _replace(draft, by=by)
    save_as(draft, by=by, reason="waits for a signature" if draft.is_waiting else "prescribed")
    if by.has_perm(SIGN):
        sign_prescription(draft, by=by)
    return draft


def _check_lifts(draft: Prescription) -> None:
    """Lifts belong to a stage of resistance, and each stage has its most repetitions."""
    lifts, stage = draft.lift_rows, BY_KEY.get(draft.strength)
    if lifts and stage is None:
        raise ValidationError({"lifts": "Choose the stage of resistance, or empty the exercises."})
    for lift in lifts:
        if stage and lift.repetitions > stage.repetitions[1]:
            most = f"{stage.name} resistance has at most {stage.repetitions[1]} repetitions"
            raise ValidationError({"lifts": f"{lift.exercise}: {most}."})


def _cover(draft: Prescription, signed: Prescription | None, *, goes_on: bool) -> None:
    """Inside the signed limits it needs no signature of its own; beyond them it says what lies
    beyond."""
    allowed = signed_of(signed)
    told = beyond(dose_of(draft), allowed)
    if allowed is not None:
        told += beyond_bounds(bounds_of(draft), allowed)
    draft.beyond = "; ".join(told)
    draft.covered_by = None if told else signed
    draft.is_waiting = bool(told) and not goes_on


def _replace(new: Prescription, *, by: User) -> None:
    """End what the new one takes the place of. One that waits leaves the one in force alone."""
    standing = new.enrolment.prescriptions.exclude(pk=new.pk).filter(
        Q(replaced_on=None) | Q(replaced_on__gt=new.valid_from)
    )
    if new.is_waiting:
        standing = standing.filter(is_waiting=True)
    for old in standing:
        # One that never began is replaced on its own first day: it was in force on none.
        old.replaced_on = max(old.valid_from, new.valid_from)
        save_as(old, by=by, reason="replaced")


def _keep_upper_limit(old: Prescription, draft: Prescription) -> None:
    """An upper limit in force is raised or dropped only with a reason."""
    limit = old.upper_limit_bpm
    eased = limit is not None and (draft.upper_limit_bpm is None or draft.upper_limit_bpm > limit)
    if eased and draft.upper_limit_reason in {"", old.upper_limit_reason}:
        raise ValidationError(
            f"The prescription in force has an upper limit of {limit} /min; "
            "give the reason why it is raised or dropped."
        )


@transaction.atomic
def sign_prescription(prescription: Prescription, *, by: User) -> None:
    """A physician takes responsibility for the dose and its limits; one that waited is in force.

    Raises
    ------
    PermissionDenied : the person is not a physician; the attempt is on the access log.
    ValidationError : it is signed already, or another took its place meanwhile.
    """
    if not may_sign(by, prescription.enrolment.patient.site):
        raise PermissionDenied("Only a physician signs a prescription.")
    row = prescription
    Enrolment.objects.select_for_update().get(pk=row.enrolment_id)
    row.refresh_from_db(fields=sorted(Prescription.MOVES))
    today = row.enrolment.patient.site.today()
    if row.signed_at is not None:
        raise ValidationError("This prescription is already signed.")
    if row.replaced_on is not None and row.replaced_on <= max(today, row.valid_from):
        raise ValidationError("Another prescription took its place meanwhile; open that one.")
    if row.is_waiting:
        row.is_waiting, row.valid_from = False, max(row.valid_from, today)
        _replace(row, by=by)
    row.signed_by, row.signed_at = by, timezone.now()
    save_as(row, by=by, reason="signed")
    patient = row.enrolment.patient
    audit.record(AuditEvent.Kind.SIGNATURE, str(row), by=by, patient=patient)
