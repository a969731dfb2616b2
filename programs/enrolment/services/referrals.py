"""Writes to referrals: new ones, contact, eligibility, closing."""

import difflib
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients import services as patient_services
from patients.history import save_as
from patients.models import Condition, Patient
from patients.submissions import claim
from programs.enrolment.calc.eligibility import Eligibility, assess
from programs.enrolment.calc.referral_states import may_move
from programs.enrolment.models import (
    ContactAttempt,
    EligibilityAnswer,
    Referral,
    ReferralDocument,
)
from programs.staff.models import Site, User


@dataclass(frozen=True)
class Known:
    """Who in the records a newcomer may be."""

    patient: Patient | None = None  # taken for the same person unless somebody says otherwise
    conflict: str = ""  # why the record cannot be taken as it is
    twin: Patient | None = None  # same name and birth date, not tied by a record number


class PersonQuestion(ValidationError):
    """Somebody of the same name and birth date is on record: one person or two?"""

    def __init__(self, twin: Patient) -> None:
        self.twin = twin
        number = f", record {twin.record_number}" if twin.record_number else ""
        super().__init__(f"{twin}, born {twin.born_on}{number}, is on record: one person or two?")


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
                conflict=f"record number {newcomer.record_number} belongs to {by_number}, "
                f"born {by_number.born_on}",
            )
        return Known(by_number)
    twin = Patient.objects.filter(
        site=site,
        family_name__iexact=newcomer.family_name,
        given_name__iexact=newcomer.given_name,
        born_on=newcomer.born_on,
    ).first()
    if twin is not None and newcomer.record_number and twin.record_number:
        words = f"same name and birth date as record {twin.record_number}; one person or two?"
        return Known(None, words, twin)
    return Known(twin, twin=twin)


def _alike(a: Patient, b: Patient) -> bool:
    """The same family name but for spelling slips."""
    left, right = a.family_name.casefold(), b.family_name.casefold()
    return difflib.SequenceMatcher(None, left, right).ratio() >= 0.7


SAME, ANOTHER = "same", "another"


@transaction.atomic
def refer(
    patient: Patient,
    condition: Condition,
    referral: Referral,
    others: Sequence[Condition] = (),
    *,
    one_or_two: str | None = "",
    by: User,
) -> Referral:
    """Store a referral with its conditions, and the patient too if new.

    ``one_or_two`` answers whether somebody of the same name and birth date is the SAME or ANOTHER
    person; "" asks (PersonQuestion), None takes a person without a clashing number for the same.

    Raises
    ------
    ValidationError : the person is already waiting for the same condition, or a row is refused.
    """
    if patient.pk is None:
        patient = _who(patient, one_or_two, by=by)
    if condition.happened_on is not None and condition.happened_on < patient.born_on:
        raise ValidationError("The event lies before the birth date.")
    if earlier := already_referred(patient, condition, referral.referred_on):
        raise ValidationError(
            f"{patient} already has a referral for this event, received {earlier.referred_on}."
        )
    for row in (condition, *others):
        row.patient = patient
        patient_services.add_background(row, by=by)
    referral.patient, referral.condition = patient, condition
    save_as(referral, by=by, reason="received")
    referral.others.set(others)
    return referral


def _who(newcomer: Patient, one_or_two: str | None, *, by: User) -> Patient:
    known = find_patient(newcomer.site, newcomer)
    if known.twin is not None:
        if one_or_two == "":
            raise PersonQuestion(known.twin)
        if one_or_two == SAME:
            return _completed(known.twin, newcomer, by=by)
        if one_or_two == ANOTHER:
            return patient_services.register(newcomer, by=by)
    if known.conflict:
        raise ValidationError(f"Please check: {known.conflict}.")
    return known.patient or patient_services.register(newcomer, by=by)


def _completed(known: Patient, newcomer: Patient, *, by: User) -> Patient:
    """The record on file, with a number or phone it lacked."""
    fresh = {
        name: getattr(newcomer, name)
        for name in ("record_number", "phone", "sex")
        if getattr(newcomer, name) and not getattr(known, name)
    }
    if fresh:
        for name, value in fresh.items():
            setattr(known, name, value)
        save_as(known, by=by, reason="completed by a referral")
    return known


def already_referred(patient: Patient, condition: Condition, referred_on: date) -> Referral | None:
    """The referral that came before for the same kind of event on the same day.

    Without an event date, a referral of the same kind that still waits, or of the same day, is
    taken for the same.
    """
    same = Referral.objects.filter(patient=patient, condition__kind=condition.kind)
    if condition.happened_on is not None:
        return same.filter(condition__happened_on=condition.happened_on).first()
    undated = same.filter(condition__happened_on=None)
    return undated.waiting().first() or undated.filter(referred_on=referred_on).first()


@transaction.atomic
def change_referral(
    referral: Referral,
    condition: Condition,
    others: Sequence[Condition] | None = None,
    *,
    seen: int,
    by: User,
) -> None:
    """Save corrected facts; raises StaleVersion when somebody else saved in between.

    ``others`` replaces the further conditions; None leaves them.
    """
    Referral.objects.select_for_update().get(pk=referral.pk).check_version(seen)
    save_as(condition, by=by, reason="corrected")
    for row in others or ():
        row.patient = referral.patient
        save_as(row, by=by, reason="corrected" if row.pk else "added")
    save_as(referral, by=by, reason="corrected")
    if others is not None:
        referral.others.set(others)


def _locked(referral: Referral) -> Referral:
    found = Referral.objects.select_for_update(of=("self",)).select_related("patient__site")
    return found.get(pk=referral.pk)


def move(row: Referral, state: str, *, by: User, reason: str) -> None:
    """Take a locked referral to another state; raises ValidationError where none leads there."""
    if not may_move(row.state, state):
        there = Referral.State(state).label
        raise ValidationError(f"A referral that is {row.get_state_display()} cannot be {there}.")
    row.state = state
    save_as(row, by=by, reason=reason)


@transaction.atomic
def assign(referral: Referral, owner: User | None, *, by: User) -> None:
    """Put the next step into somebody's hands."""
    row = _locked(referral)
    if owner is not None and row.patient.site_id not in owner.site_ids():
        raise ValidationError(f"{owner} does not work at {row.patient.site}.")
    row.owner = owner
    save_as(row, by=by, reason=f"in the hands of {owner}" if owner else "in nobody’s hands")


@transaction.atomic
def log_contact(attempt: ContactAttempt, *, key: uuid.UUID | None = None, by: User) -> None:
    """Store a try to reach somebody; raises AlreadyTaken the second time."""
    claim(key, by=by)
    attempt.by = by
    if attempt.at > timezone.now():
        raise ValidationError("The contact lies in the future; use the next try for a plan.")
    save_as(attempt, by=by)
    row = _locked(attempt.referral)
    if row.state == Referral.State.NEW:
        move(row, Referral.State.CONTACTED, by=by, reason=attempt.get_outcome_display())


@transaction.atomic
def ask_for(referral: Referral, kinds: Sequence[str], of: str, on: date, *, by: User) -> None:
    """Note papers as asked for today; those already on the list are left as they are."""
    row = _locked(referral)
    known = set(row.documents.values_list("kind", flat=True))
    for kind in kinds:
        if kind not in known:
            paper = ReferralDocument(referral=row, kind=kind, asked_on=on, asked_of=of)
            save_as(paper, by=by, reason="asked for")
    if row.state in {Referral.State.NEW, Referral.State.CONTACTED} and _outstanding(row):
        move(row, Referral.State.ASKING, by=by, reason="papers asked for")


@transaction.atomic
def receive_document(referral: Referral, kind: str, on: date | None, *, by: User) -> None:
    """Note a paper as here, asked for or not; None takes that back."""
    row = _locked(referral)
    paper = row.documents.filter(kind=kind).first() or ReferralDocument(referral=row, kind=kind)
    paper.received_on = on
    save_as(paper, by=by, reason="received" if on else "not here after all")
    if row.state == Referral.State.ASKING and not _outstanding(row):
        move(row, Referral.State.CONTACTED, by=by, reason="every paper is here")


def _outstanding(row: Referral) -> bool:
    return row.documents.filter(received_on=None).exists()


@transaction.atomic
def note_what_suits(referral: Referral, per_week: int, weekdays: str, *, by: User) -> None:
    """How many sessions a week, and on which days; the start finder reads it."""
    row = _locked(referral)
    row.wanted_per_week, row.wanted_weekdays = per_week, weekdays
    save_as(row, by=by, reason="what suits")


@transaction.atomic
def wait_for_seat(referral: Referral, per_week: int, weekdays: str, *, by: User) -> None:
    """Put somebody on the waiting list, with what would suit them."""
    note_what_suits(referral, per_week, weekdays, by=by)
    move(_locked(referral), Referral.State.SEAT, by=by, reason="on the waiting list")


@transaction.atomic
def leave_waiting_list(referral: Referral, *, by: User) -> None:
    """Take somebody off the waiting list without booking."""
    move(_locked(referral), Referral.State.CONTACTED, by=by, reason="off the waiting list")


def judge(referral: Referral, start_on: date) -> Eligibility:
    """What the payer's rule set says for a start on a day."""
    return assess(referral.facts(), start_on, referral.rule_set())


@transaction.atomic
def confirm_eligibility(
    referral: Referral, decision: str, start_on, reason: str = "", *, by: User
) -> EligibilityAnswer:
    """A clinician decides; deciding otherwise than the rule needs a reason."""
    said, rules = judge(referral, start_on), referral.rule_set()
    answer = EligibilityAnswer(
        referral=referral,
        decision=decision,
        rule_said=said.outcome,
        limb=said.limb,
        rule_set=f"{rules.name}: {rules.source}"[:300],
        for_start_on=start_on,
        reason=reason,
        by=by,
    )
    save_as(answer, by=by, reason=reason)
    return answer


@transaction.atomic
def close_referral(referral: Referral, why_not: str, note: str = "", *, by: User) -> None:
    """The person will not enrol; raises ValidationError if already enrolled."""
    row = _locked(referral)
    row.why_not, row.why_not_note = why_not, note
    move(row, Referral.State.NOT_ENROLLING, by=by, reason=row.get_why_not_display())


@transaction.atomic
def reopen_referral(referral: Referral, *, by: User) -> None:
    """Undo a closing."""
    row = _locked(referral)
    if row.state != Referral.State.NOT_ENROLLING:
        raise ValidationError("Only a closed referral can be reopened.")
    row.why_not, row.why_not_note = "", ""
    move(row, Referral.State.CONTACTED, by=by, reason="reopened")
