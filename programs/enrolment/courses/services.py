"""Writes to enrolments: start, pause, resume, close; each re-plans the future only."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from patients.calc.days import in_words
from patients.history import save_as
from programs.enrolment.calc.calendar import Sitting, beyond_course
from programs.enrolment.calc.eligibility import Outcome
from programs.enrolment.models import (
    ClassSlot,
    EligibilityAnswer,
    Enrolment,
    EntryScreen,
    Pause,
    PlannedSession,
    Referral,
)
from programs.enrolment.referrals.services import judge, move
from programs.enrolment.seats import booking
from programs.enrolment.seats.booking import give_up_after, plan_rest
from programs.staff.models import User


@transaction.atomic
def enrol(
    referral: Referral,
    slots: Sequence[ClassSlot],
    start_on: date,
    sessions: int,
    *,
    extension_reason: str = "",
    by: User,
) -> Enrolment:
    """Enrol a confirmed referral into classes and book every session.

    Raises
    ------
    ValidationError : not confirmed eligible, barred by the entry screen, already enrolled, a class
        is full, no room, or more than 36 sessions without the payer's approval.
    """
    referral = Referral.objects.select_for_update(of=("self",)).get(pk=referral.pk)
    _may_enrol(referral)
    slots = booking.lock(slots)
    sittings = booking.plan(referral.patient.site, slots, start_on, sessions)
    still_eligible(referral, sittings[0][0])
    booking.seats_or_refuse(slots, sittings)
    enrolment = Enrolment(
        patient=referral.patient,
        referral=referral,
        starts_on=sittings[0][0],
        planned_end_on=sittings[-1][0],
        sessions_planned=sessions,
        extension_reason=extension_reason,
        clinician=_first_clinician(referral),
    )
    save_as(enrolment, by=by, reason="enrolled")
    enrolment.slots.set(slots)
    booking.book(enrolment, sittings, by=by, reason="enrolled")
    move(referral, Referral.State.ENROLLED, by=by, reason="enrolled")
    return enrolment


def _first_clinician(referral: Referral) -> User | None:
    """Whoever had the referral in hand goes on with the course, if they care for courses."""
    owner = referral.owner
    return owner if owner is not None and owner.has_perm("enrolment.change_enrolment") else None


@transaction.atomic
def look_after(
    enrolment: Enrolment, clinician: User | None, *, only_if_free: bool = False, by: User
) -> None:
    """Name who looks after a course; nobody is allowed.

    Raises ValidationError for somebody of another site or without a clinician's work, and, with
    ``only_if_free``, when somebody else took the course meanwhile.
    """
    row = locked(enrolment)
    held = row.clinician
    if only_if_free and held is not None and held.is_active and held != clinician:
        raise ValidationError(f"{held} took this course meanwhile.")
    site = row.patient.site
    if clinician is not None:
        if site.pk not in clinician.site_ids():
            raise ValidationError(f"{clinician} does not work at {site}.")
        if not clinician.has_perm("enrolment.change_enrolment"):
            raise ValidationError(f"{clinician} cannot be assigned to courses.")
    row.clinician = clinician
    save_as(row, by=by, reason=f"assigned to {clinician or 'nobody'}")


def _may_enrol(referral: Referral) -> None:
    if not referral.is_waiting:
        raise ValidationError("This referral is not waiting any more.")
    answer = referral.answers.first()
    if answer is None or answer.decision != EligibilityAnswer.Decision.ELIGIBLE:
        raise ValidationError("A clinician must confirm eligibility first.")
    screen = referral.patient.entry_screens.first()
    if screen is not None and screen.decision == EntryScreen.Decision.NOT_YET:
        raise ValidationError("The entry screen says not yet; screen again before booking.")
    others = referral.patient.enrolments.still_open()
    if other := others.first():
        raise ValidationError(
            f"{referral.patient} is in a course that began on {in_words(other.starts_on)}. "
            "End it first; a new qualifying event is entered on its Course page."
        )


def still_eligible(referral: Referral, start_on: date) -> None:
    """The rule is read again for the real start; a clinician's reasoned override stands.

    An override answers what the rule said then; when the rule says something else now, new facts
    came in and the clinician decides again.
    """
    answer, said = referral.answers.first(), judge(referral, start_on)
    overridden = answer is not None and answer.rule_said == said.outcome
    if said.outcome != Outcome.ELIGIBLE and not overridden:
        raise ValidationError(
            f"For a start on {in_words(start_on)} the rule says otherwise: {said.reason} "
            "Correct the referral, or decide again with a reason."
        )


@transaction.atomic
def pause(enrolment: Enrolment, from_on: date, reason: str, *, by: User) -> None:
    """Stop planning from a day on. What lies behind, today included, stays."""
    row = open_or_refuse(enrolment)
    if from_on < row.starts_on:
        raise ValidationError("The pause would begin before the program; move the start instead.")
    save_as(Pause(enrolment=row, from_on=from_on, reason=reason), by=by)
    give_up_after(row, from_on - timedelta(days=1), by=by, reason=f"paused: {reason}")
    save_as(row, by=by, reason=f"paused: {reason}")


@transaction.atomic
def resume(enrolment: Enrolment, on: date, *, by: User) -> None:
    """End the open pause and plan what is left from a day on.

    Raises
    ------
    ValidationError : not paused, back before the pause began, no seats, or past the 36 weeks.
    """
    row = open_or_refuse(enrolment)
    open_pause = row.pauses.filter(until_on=None).first()
    if open_pause is None:
        raise ValidationError("This enrolment is not paused.")
    if on < open_pause.from_on:
        raise ValidationError(
            f"The pause began on {in_words(open_pause.from_on)}; come back after that."
        )
    open_pause.until_on = on
    save_as(open_pause, by=by)
    plan_rest(row, max(on, row.patient.site.today()), by=by, reason="resumed")
    save_as(row, by=by, reason="resumed")


@transaction.atomic
def close(enrolment: Enrolment, on: date, outcome: str, *, by: User, reason: str = "") -> None:
    """End the course with a reason; sessions planned ahead are given up."""
    row = open_or_refuse(enrolment)
    row.closed_on, row.outcome = on, outcome
    for open_pause in row.pauses.filter(until_on=None):
        open_pause.until_on = max(on, open_pause.from_on)
        save_as(open_pause, by=by)
    save_as(row, by=by, reason=reason or row.get_outcome_display())
    give_up_after(row, on, by=by, reason=row.get_outcome_display())


def locked(enrolment: Enrolment) -> Enrolment:
    found = Enrolment.objects.select_for_update(of=("self",)).select_related("patient__site")
    return found.get(pk=enrolment.pk)


def open_or_refuse(enrolment: Enrolment) -> Enrolment:
    row = locked(enrolment)
    if not row.is_open:
        raise ValidationError(
            f"This course ended on {in_words(row.closed_on or row.planned_end_on)}."
        )
    return row


@transaction.atomic
def reopen(enrolment: Enrolment, *, by: User, reason: str) -> None:
    """Undo a closing: the course is open again and its remaining sessions are planned anew."""
    row = locked(enrolment)
    if row.is_open:
        raise ValidationError("This course is open.")
    row.closed_on, row.outcome = None, ""
    today = row.patient.site.today()
    plan_rest(row, max(today, row.starts_on), by=by, reason=reason)
    save_as(row, by=by, reason=reason)


@transaction.atomic
def add_to_class(
    enrolment: Enrolment,
    slot: ClassSlot,
    on: date,
    *,
    sessions: int = 0,
    approval: str = "",
    makes_up: Sitting | None = None,
    by: User,
) -> PlannedSession:
    """A make-up or an extra session: one more seat on one day.

    ``sessions`` is how many the course comes to with it. Beyond what the course holds, or past its
    36 weeks, ``approval`` says which of the payer's it rests on, and is kept with the course.
    ``makes_up`` is the missed session a make-up stands for; it may sit in an absent person's seat.

    Raises
    ------
    ValidationError : the class is full, not held, already planned, at the hour of another class, a
        third one that day, or beyond the course without an approval.
    """
    row = open_or_refuse(enrolment)
    (slot,) = booking.lock([slot])
    booking.held_or_refuse(slot, on)
    planned = PlannedSession(enrolment=row, slot=slot, on=on)
    if makes_up is not None:
        planned.makes_up_on, planned.makes_up_slot_id = makes_up
    planned.full_clean()
    booking.day_has_room(row, on)
    booking.one_class_at_a_time(row, [(on, slot.pk)])
    _approved_or_refuse(row, on, sessions, approval, by=by)
    booking.seats_or_refuse([slot], [(on, slot.pk)], takes_empty=makes_up is not None)
    save_as(planned, by=by, reason="make-up" if makes_up else "added to the class")
    if on > row.planned_end_on:
        row.planned_end_on = on
        save_as(row, by=by, reason="make-up" if makes_up else "added to the class")
    return planned


def _approved_or_refuse(
    row: Enrolment, on: date, sessions: int, approval: str, *, by: User
) -> None:
    """A session beyond the course rests on the payer's approval, kept with the course."""
    beyond = beyond_course(sessions, on, row.starts_on, row.sessions_planned)
    if not beyond:
        return
    if not approval.strip():
        raise ValidationError({"approval": [f"{beyond.capitalize()}: say which."]})
    row.sessions_planned = max(row.sessions_planned, sessions)
    row.extension_reason = approval.strip()
    save_as(row, by=by, reason=f"approved: {approval.strip()}")
