"""Writes to referrals: new ones, contact, eligibility, closing."""

import uuid
from collections.abc import Sequence
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients import services as patient_services
from patients.calc.days import in_words
from patients.claims import claim
from patients.history import save_as
from patients.models import Condition, Patient
from programs.enrolment.calc.eligibility import Eligibility, assess
from programs.enrolment.calc.referral_states import may_move
from programs.enrolment.models import (
    ContactAttempt,
    CourseTotals,
    EligibilityAnswer,
    Enrolment,
    Referral,
    ReferralDocument,
)
from programs.enrolment.referrals.earlier import Earlier, Event
from programs.enrolment.referrals.identity import who_is
from programs.staff.models import User


@transaction.atomic
def refer(
    patient: Patient,
    condition: Condition,
    referral: Referral,
    others: Sequence[Condition] = (),
    *,
    one_or_two: str | None = "",
    key: uuid.UUID | None = None,
    by: User,
) -> Referral:
    """Store a referral with its conditions, and the patient too if new.

    ``one_or_two`` answers whether somebody of the same name and birth date is the SAME or ANOTHER
    person; "" asks (PersonQuestion), None takes a person without a clashing number for the same.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValidationError : the person is already waiting for the same condition, or a row is refused.
    """
    claim(key, by=by)
    if patient.pk is None:
        patient = who_is(patient, one_or_two, by=by)
    if condition.happened_on is not None and condition.happened_on < patient.born_on:
        raise ValidationError("The event lies before the birth date.")
    if earlier := _already_referred(patient, condition, referral.referred_on):
        raise ValidationError(
            f"{patient} already has a referral for this event, "
            f"received {in_words(earlier.referred_on)}."
        )
    for row in (condition, *others):
        row.patient = patient
        patient_services.add_background(row, by=by)
    referral.patient, referral.condition = patient, condition
    save_as(referral, by=by, reason="received")
    referral.others.set(others)
    return referral


def _already_referred(patient: Patient, condition: Condition, on: date) -> Event | None:
    earlier = Earlier()
    earlier.look_up([patient])
    return earlier.same(patient, Event(condition.kind, condition.happened_on, on))


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
    for course in Enrolment.objects.filter(referral__condition=condition):
        CourseTotals.objects.copy_course(course)  # its wait may count from another day now
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
    save_as(row, by=by, reason=f"assigned to {owner}" if owner else "unassigned")


@transaction.atomic
def log_contact(attempt: ContactAttempt, *, key: uuid.UUID | None = None, by: User) -> None:
    """Store a try to reach somebody; raises AlreadyTaken the second time."""
    claim(key, by=by)
    attempt.by = by
    if attempt.at > timezone.now():
        raise ValidationError("The contact lies in the future; use the next try for a plan.")
    row = _locked(attempt.referral)
    if attempt.next_try_on and attempt.next_try_on < row.patient.site.today():
        raise ValidationError("The next try lies in the past.")
    save_as(attempt, by=by)
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
            save_as(paper, by=by, reason="requested")
    if row.state in {Referral.State.NEW, Referral.State.CONTACTED} and _outstanding(row):
        move(row, Referral.State.ASKING, by=by, reason="records requested")


@transaction.atomic
def receive_document(referral: Referral, kind: str, on: date | None, *, by: User) -> None:
    """Note a paper as here, asked for or not; None takes that back."""
    row = _locked(referral)
    paper = row.documents.filter(kind=kind).first() or ReferralDocument(referral=row, kind=kind)
    paper.received_on = on
    save_as(paper, by=by, reason="received" if on else "outstanding after all")
    if row.state == Referral.State.ASKING and not _outstanding(row):
        move(row, Referral.State.CONTACTED, by=by, reason="all records received")


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
    referral: Referral,
    decision: str,
    start_on,
    reason: str = "",
    *,
    key: uuid.UUID | None = None,
    by: User,
) -> EligibilityAnswer:
    """A clinician decides; deciding otherwise than the rule needs a reason.

    Raises
    ------
    AlreadyTaken : the same form was sent before.
    ValidationError : a decision against the rule has no reason.
    """
    claim(key, by=by)
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
