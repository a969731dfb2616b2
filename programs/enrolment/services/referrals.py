"""Writes to referrals: new ones, contact, eligibility, closing."""

import difflib
import uuid
from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction

from patients import services as patient_services
from patients.history import save_as
from patients.models import Condition, Patient
from patients.submissions import claim
from programs.enrolment.calc.eligibility import Eligibility, assess
from programs.enrolment.models import ContactAttempt, EligibilityAnswer, Referral
from programs.staff.models import Site, User


@dataclass(frozen=True)
class Known:
    """Who in the records a newcomer may be."""

    patient: Patient | None  # certain: same record number or same name and birth date
    conflict: str = ""  # why the record cannot be taken as it is


def find_patient(site: Site, newcomer: Patient) -> Known:
    """Match by record number, else by name and birth date; a clash is named, never guessed."""
    by_number = (
        Patient.objects.filter(site=site, record_number=newcomer.record_number).first()
        if newcomer.record_number
        else None
    )
    if by_number is not None:
        if by_number.born_on != newcomer.born_on or not _alike(by_number, newcomer):
            return Known(
                None,
                f"record number {newcomer.record_number} belongs to {by_number}, "
                f"born {by_number.born_on}",
            )
        return Known(by_number)
    twins = Patient.objects.filter(
        site=site,
        family_name__iexact=newcomer.family_name,
        given_name__iexact=newcomer.given_name,
        born_on=newcomer.born_on,
    )
    for twin in twins:
        if newcomer.record_number and twin.record_number:
            return Known(
                None, f"same name and birth date as record {twin.record_number}; one person or two?"
            )
        return Known(twin)
    return Known(None)


def _alike(a: Patient, b: Patient) -> bool:
    """The same family name but for spelling slips."""
    left, right = a.family_name.casefold(), b.family_name.casefold()
    return difflib.SequenceMatcher(None, left, right).ratio() >= 0.7


@transaction.atomic
def refer(patient: Patient, condition: Condition, referral: Referral, *, by: User) -> Referral:
    """Store a referral with its condition, and the patient too if new.

    Raises
    ------
    ValidationError : the person is already waiting for the same condition, or a row is refused.
    """
    if patient.pk is None:
        known = find_patient(patient.site, patient)
        if known.conflict:
            raise ValidationError(f"Please check: {known.conflict}.")
        patient = known.patient or patient_services.register(patient, by=by)
    if condition.happened_on is not None and condition.happened_on < patient.born_on:
        raise ValidationError("The event lies before the birth date.")
    if already_referred(patient, condition, referral.referred_on):
        raise ValidationError(f"{patient} already has a referral for this event.")
    condition.patient = patient
    patient_services.add_background(condition, by=by)
    referral.patient, referral.condition = patient, condition
    save_as(referral, by=by, reason="received")
    return referral


def already_referred(patient: Patient, condition: Condition, referred_on: date) -> bool:
    """The same kind of event on the same day was referred before.

    Without an event date, a referral of the same kind that still waits, or of the same day, is
    taken for the same.
    """
    same = Referral.objects.filter(patient=patient, condition__kind=condition.kind)
    if condition.happened_on is not None:
        return same.filter(condition__happened_on=condition.happened_on).exists()
    undated = same.filter(condition__happened_on=None)
    return undated.waiting().exists() or undated.filter(referred_on=referred_on).exists()


@transaction.atomic
def change_referral(referral: Referral, condition: Condition, *, seen: int, by: User) -> None:
    """Save corrected facts; raises StaleVersion when somebody else saved in between."""
    Referral.objects.select_for_update().get(pk=referral.pk).check_version(seen)
    save_as(condition, by=by, reason="corrected")
    save_as(referral, by=by, reason="corrected")


@transaction.atomic
def log_contact(attempt: ContactAttempt, *, key: uuid.UUID | None = None, by: User) -> None:
    """Store a try to reach somebody; raises AlreadyTaken the second time."""
    claim(key, by=by)
    attempt.by = by
    save_as(attempt, by=by)
    referral = Referral.objects.select_for_update().get(pk=attempt.referral_id)
    if referral.state == Referral.State.NEW:
        referral.state = Referral.State.CONTACTED
        save_as(referral, by=by, reason=attempt.get_outcome_display())


def judge(referral: Referral, start_on) -> Eligibility:
    """What the rule set says for a start on a day."""
    return assess([referral.facts()], start_on)


@transaction.atomic
def confirm_eligibility(
    referral: Referral, decision: str, start_on, reason: str = "", *, by: User
) -> EligibilityAnswer:
    """A clinician decides; deciding otherwise than the rule needs a reason."""
    said = judge(referral, start_on)
    answer = EligibilityAnswer(
        referral=referral,
        decision=decision,
        rule_said=said.outcome,
        limb=said.limb,
        rule_set=said.rule_set,
        for_start_on=start_on,
        reason=reason,
        by=by,
    )
    save_as(answer, by=by, reason=reason)
    return answer


@transaction.atomic
def close_referral(referral: Referral, why_not: str, *, by: User) -> None:
    """The person will not enrol; raises ValidationError if already enrolled."""
    row = Referral.objects.select_for_update().get(pk=referral.pk)
    if not row.is_waiting:
        raise ValidationError("Only a waiting referral can be closed.")
    row.state, row.why_not = Referral.State.NOT_ENROLLING, why_not
    save_as(row, by=by, reason=row.get_why_not_display())


@transaction.atomic
def reopen_referral(referral: Referral, *, by: User) -> None:
    """Undo a closing."""
    row = Referral.objects.select_for_update().get(pk=referral.pk)
    if row.state != Referral.State.NOT_ENROLLING:
        raise ValidationError("Only a closed referral can be reopened.")
    row.state, row.why_not = Referral.State.CONTACTED, ""
    save_as(row, by=by, reason="reopened")
