"""Writes to enrolments: start, pause, resume, close; each re-plans the future only."""

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Count

from patients.history import save_as
from programs.enrolment.calc.calendar import NoRoomInCourse, plan_sessions
from programs.enrolment.calc.eligibility import Outcome
from programs.enrolment.models import (
    ClassSlot,
    Closure,
    EligibilityAnswer,
    Enrolment,
    Pause,
    PlannedSession,
    Referral,
)
from programs.enrolment.services.referrals import judge
from programs.staff.models import Site, User

FIRST_REVIEW = "Baseline assessment"


def closed_days(site: Site) -> set[date]:
    return set(Closure.objects.filter(site=site).values_list("on", flat=True))


@transaction.atomic
def enrol(
    referral: Referral, slots: Sequence[ClassSlot], start_on: date, sessions: int, *, by: User
) -> Enrolment:
    """Enrol a confirmed referral into classes and book every session.

    Raises
    ------
    ValidationError : not confirmed eligible, already enrolled, a class is full, or no room.
    """
    referral = (
        Referral.objects.select_for_update(of=("self",))
        .select_related("patient__site")
        .get(pk=referral.pk)
    )
    _may_enrol(referral)
    slots = _lock(slots)
    plan = _plan(referral.patient.site, slots, start_on, sessions)
    _still_eligible(referral, plan[0][0])
    _seats_or_refuse(slots, plan)
    enrolment = Enrolment(
        patient=referral.patient,
        referral=referral,
        starts_on=plan[0][0],
        planned_end_on=plan[-1][0],
        sessions_planned=sessions,
        next_review_on=plan[0][0],
        next_review=FIRST_REVIEW,
    )
    save_as(enrolment, by=by, reason="enrolled")
    enrolment.slots.set(slots)
    _book(enrolment, plan)
    referral.state = Referral.State.ENROLLED
    save_as(referral, by=by, reason="enrolled")
    return enrolment


def _may_enrol(referral: Referral) -> None:
    if not referral.is_waiting:
        raise ValidationError("This referral is not waiting any more.")
    answer = referral.answers.first()
    if answer is None or answer.decision != EligibilityAnswer.Decision.ELIGIBLE:
        raise ValidationError("A clinician must confirm eligibility first.")


def _still_eligible(referral: Referral, start_on: date) -> None:
    """The rule is read again for the real start; a clinician's reasoned override stands."""
    answer, said = referral.answers.first(), judge(referral, start_on)
    overridden = answer is not None and answer.rule_said != EligibilityAnswer.Decision.ELIGIBLE
    if said.outcome != Outcome.ELIGIBLE and not overridden:
        raise ValidationError(
            f"For a start on {start_on} the rule says otherwise: {said.reason} "
            "Correct the referral, or decide again with a reason."
        )


def _lock(slots: Sequence[ClassSlot]) -> list[ClassSlot]:
    """Whoever books a seat holds the class; of two people after the last seat one waits."""
    keys = [slot.pk for slot in slots]
    return list(ClassSlot.objects.select_for_update().filter(pk__in=keys).order_by("pk"))


def _plan(
    site: Site,
    slots: Sequence[ClassSlot],
    start_on: date,
    sessions: int,
    course_from: date | None = None,
) -> list[tuple[date, int]]:
    weekly = [slot.weekly for slot in slots]
    try:
        return plan_sessions(start_on, weekly, closed_days(site), sessions, course_from)
    except NoRoomInCourse as error:
        raise ValidationError(str(error)) from error


def _seats_or_refuse(slots: Sequence[ClassSlot], plan: Sequence[tuple[date, int]]) -> None:
    taken = {
        (row["on"], row["slot"]): row["n"]
        for row in PlannedSession.objects.filter(
            slot__in=slots, on__range=(plan[0][0], plan[-1][0])
        )
        .order_by()
        .values("slot", "on")
        .annotate(n=Count("pk"))
    }
    seats = {slot.pk: slot for slot in slots}
    full = [(day, seats[key]) for day, key in plan if taken.get((day, key), 0) >= seats[key].seats]
    if full:
        count = Counter(slot for _, slot in full)
        words = "; ".join(f"{slot} is full on {n} of the days" for slot, n in count.items())
        raise ValidationError(
            f"{words}, first on {full[0][0]}. Choose other classes or a later start."
        )


def _book(enrolment: Enrolment, plan: Sequence[tuple[date, int]]) -> None:
    PlannedSession.objects.bulk_create(
        [PlannedSession(enrolment=enrolment, slot_id=key, on=day) for day, key in plan]
    )


@transaction.atomic
def pause(enrolment: Enrolment, from_on: date, reason: str, *, by: User) -> None:
    """Stop planning from a day on. What lies behind, today included, stays."""
    row = _open_or_refuse(enrolment)
    if from_on < row.starts_on:
        raise ValidationError("The pause would begin before the program; move the start instead.")
    save_as(Pause(enrolment=row, from_on=from_on, reason=reason), by=by)
    _give_up_after(row, from_on - timedelta(days=1))
    save_as(row, by=by, reason=f"paused: {reason}")


def _give_up_after(row: Enrolment, day: date) -> None:
    """Give up planned sessions after a day; never today's or earlier ones, which may be used."""
    today = row.patient.site.today()
    row.planned.filter(on__gt=max(day, today)).delete()


@transaction.atomic
def resume(enrolment: Enrolment, on: date, *, by: User) -> None:
    """End the open pause and plan what is left from a day on.

    Left are the course's sessions less those planned before the pause, held or not.

    Raises
    ------
    ValidationError : not paused, back before the pause began, no seats, or past the 36 weeks.
    """
    row = _open_or_refuse(enrolment)
    open_pause = row.pauses.filter(until_on=None).first()
    if open_pause is None:
        raise ValidationError("This enrolment is not paused.")
    if on < open_pause.from_on:
        raise ValidationError(f"The pause began on {open_pause.from_on}; come back after that.")
    open_pause.until_on = on
    save_as(open_pause, by=by)
    _plan_rest(row, on, row.planned.filter(on__lt=open_pause.from_on).count())
    save_as(row, by=by, reason="resumed")


def _plan_rest(row: Enrolment, on: date, n_used: int) -> None:
    """Book what is left of a course from a day on, inside its 36 weeks and the free seats."""
    left = row.sessions_planned - n_used
    if left < 1:
        return
    slots = _lock(list(row.slots.all()))
    plan = _plan(row.patient.site, slots, on, left, course_from=row.starts_on)
    taken = set(row.planned.values_list("on", "slot"))
    fresh = [session for session in plan if session not in taken]
    if fresh:
        _seats_or_refuse(slots, fresh)
        _book(row, fresh)
    row.planned_end_on = plan[-1][0]


@transaction.atomic
def close(enrolment: Enrolment, on: date, outcome: str, *, by: User, reason: str = "") -> None:
    """End the course with a reason; sessions planned ahead are given up."""
    row = _open_or_refuse(enrolment)
    row.closed_on, row.outcome = on, outcome
    row.next_review_on, row.next_review = None, ""
    for open_pause in row.pauses.filter(until_on=None):
        open_pause.until_on = max(on, open_pause.from_on)
        save_as(open_pause, by=by)
    save_as(row, by=by, reason=reason or row.get_outcome_display())
    _give_up_after(row, on)


def _locked(enrolment: Enrolment) -> Enrolment:
    found = Enrolment.objects.select_for_update(of=("self",)).select_related("patient__site")
    return found.get(pk=enrolment.pk)


def _open_or_refuse(enrolment: Enrolment) -> Enrolment:
    row = _locked(enrolment)
    if not row.is_open:
        raise ValidationError(f"This course ended on {row.closed_on}.")
    return row


@transaction.atomic
def reopen(enrolment: Enrolment, *, by: User, reason: str) -> None:
    """Undo a closing: the course is open again and its remaining sessions are planned anew."""
    row = _locked(enrolment)
    if row.is_open:
        raise ValidationError("This course is open.")
    row.closed_on, row.outcome = None, ""
    today = row.patient.site.today()
    _plan_rest(row, max(today, row.starts_on), row.planned.filter(on__lt=today).count())
    save_as(row, by=by, reason=reason)


@transaction.atomic
def set_next_review(enrolment: Enrolment, name: str, on: date | None, *, by: User) -> None:
    """Assessments tells the class list what is due next; a closed course has nothing due."""
    row = _locked(enrolment)
    if row.is_open and (row.next_review, row.next_review_on) != (name, on):
        row.next_review, row.next_review_on = name, on
        save_as(row, by=by, reason="next review")


@transaction.atomic
def add_to_class(enrolment: Enrolment, slot: ClassSlot, on: date, *, by: User) -> PlannedSession:
    """A make-up or an extra session: one more seat on one day.

    Raises
    ------
    ValidationError : the class is full, already planned, or on another weekday.
    """
    row = _open_or_refuse(enrolment)
    (slot,) = _lock([slot])
    if on.weekday() != slot.weekday:
        raise ValidationError(f"{slot} is not held on {on:%A}.")
    _seats_or_refuse([slot], [(on, slot.pk)])
    planned = PlannedSession(enrolment=row, slot=slot, on=on)
    planned.full_clean()
    planned.save()
    return planned
