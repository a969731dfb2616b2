"""A course takes another turn: other days, another start, another site, a new event.

Each re-plans what lies ahead and never touches what lies behind.
"""

import uuid
from collections.abc import Sequence
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from patients.calc.days import in_words
from patients.claims import claim
from patients.history import save_as
from patients.models import Condition
from programs.enrolment.courses.services import close, locked, open_or_refuse, still_eligible
from programs.enrolment.models import (
    ClassSlot,
    CourseTotals,
    Enrolment,
    PlannedSession,
    Referral,
)
from programs.enrolment.referrals import services as referrals
from programs.enrolment.seats import booking
from programs.staff.models import Site, User


@transaction.atomic
def change_days(
    enrolment: Enrolment, slots: Sequence[ClassSlot], from_on: date, *, by: User
) -> None:
    """Other classes from a day on.

    Raises
    ------
    ValidationError : paused, in the past, a class is full, or the 36 weeks do not suffice.
    """
    row = open_or_refuse(enrolment)
    _ahead_or_refuse(row, from_on)
    _not_paused(row)
    if {slot.pk for slot in slots} == set(row.slots.values_list("pk", flat=True)):
        raise ValidationError("These are the days already.")
    row.slots.set(slots)
    booking.replan(row, from_on, by=by, reason="other days")
    if row.starts_on > row.patient.site.today():
        follow_first_session(row)
    save_as(row, by=by, reason=f"schedule changed from {in_words(from_on)}")


@transaction.atomic
def move_start(enrolment: Enrolment, start_on: date, *, by: User) -> None:
    """Another first session, as long as the course has not begun."""
    row = open_or_refuse(enrolment)
    today = row.patient.site.today()
    if row.starts_on <= today:
        raise ValidationError("The course has begun; change the days or pause it instead.")
    if start_on <= today:
        raise ValidationError("The new start must lie in the future.")
    _not_paused(row)
    booking.give_up(row.planned.all(), by=by, reason="start moved")
    row.starts_on = start_on  # the 36 weeks count from the new start
    booking.plan_rest(row, start_on, by=by, reason="start moved")
    follow_first_session(row)
    still_eligible(row.referral, row.starts_on)
    save_as(row, by=by, reason="start moved")


def follow_first_session(row: Enrolment) -> None:
    """The course starts with its first session; the baseline is due then."""
    first = row.planned.order_by("on").values_list("on", flat=True).first()
    if first is not None:
        row.starts_on = first


@transaction.atomic
def move_session(planned: PlannedSession, slot: ClassSlot, on: date, *, by: User) -> None:
    """One session on another day or in another class.

    Raises
    ------
    ValidationError : it lies behind, or the new class is full, not held, or a third of its day.
    """
    row = open_or_refuse(planned.enrolment)
    today = row.patient.site.today()
    fresh = row.planned.filter(pk=planned.pk).first()  # as it stands now that the course is held
    if fresh is None:
        raise ValidationError("This session was given up meanwhile; open the page again.")
    planned = fresh
    if planned.on <= today:
        raise ValidationError("Today’s and past sessions stay where they are.")
    _ahead_or_refuse(row, on)
    booking.inside_course(row, on)
    (slot,) = booking.lock([slot])
    if slot.site_id != row.patient.site_id:
        raise ValidationError(f"{slot} is not held at {row.patient.site}.")
    booking.held_or_refuse(slot, on)
    booking.seats_or_refuse([slot], [(on, slot.pk)])
    if on != planned.on:
        booking.day_has_room(row, on)
    planned.on, planned.slot = on, slot
    save_as(planned, by=by, reason="moved")
    row.planned_end_on = max(row.planned.values_list("on", flat=True))
    if row.starts_on > today:
        follow_first_session(row)
        booking.inside_course(row, row.planned_end_on)
    save_as(row, by=by, reason="session moved")


@transaction.atomic
def transfer(
    enrolment: Enrolment, site: Site, slots: Sequence[ClassSlot], from_on: date, *, by: User
) -> None:
    """The person goes on at another site: the record moves, the past stays where it happened."""
    row = open_or_refuse(enrolment)
    _ahead_or_refuse(row, from_on)
    _not_paused(row)
    if site.pk == row.patient.site_id:
        raise ValidationError(f"The course is at {site} already; change the days instead.")
    if site.pk not in by.site_ids():
        raise ValidationError(f"You do not work at {site}.")
    ahead = row.planned.filter(on__gt=row.patient.site.today())
    booking.give_up(ahead, by=by, reason=f"transferred to {site}")
    patient = row.patient
    patient.site = site
    save_as(patient, by=by, reason=f"transferred to {site}")
    CourseTotals.objects.move(patient.pk, site.pk)
    row.slots.set(slots)
    if row.clinician is not None and site.pk not in row.clinician.site_ids():
        row.clinician = None
    booking.plan_rest(row, from_on, by=by, reason=f"transferred to {site}")
    if row.starts_on > site.today():
        follow_first_session(row)
    save_as(row, by=by, reason=f"transferred to {site}")


@transaction.atomic
def new_event(
    enrolment: Enrolment,
    condition: Condition,
    referral: Referral,
    last_day: date,
    *,
    key: uuid.UUID | None = None,
    by: User,
) -> Referral:
    """A new qualifying event opens a new course: this one ends, a new referral begins.

    The session limit belongs to the qualifying event, not to the person (A-16: a contractor’s
    local coverage text on 42 CFR 410.49).

    Raises
    ------
    ValidationError : the event lies before this course began, or was referred already.
    """
    claim(key, by=by)
    row = locked(enrolment)
    if condition.happened_on is not None and condition.happened_on < row.starts_on:
        raise ValidationError("A new event happens after the course began.")
    if row.is_open:
        close(row, last_day, Enrolment.Outcome.READMISSION, by=by, reason="new qualifying event")
    referral.owner, referral.payer = by, referral.payer or row.referral.payer
    return referrals.refer(row.patient, condition, referral, by=by)


def _ahead_or_refuse(row: Enrolment, from_on: date) -> None:
    if from_on <= row.patient.site.today():
        raise ValidationError("Today’s and past sessions stay; choose a day from tomorrow on.")


def _not_paused(row: Enrolment) -> None:
    if row.pauses.filter(until_on=None).exists():
        raise ValidationError("This course is paused; resume it first.")


def tomorrow(enrolment: Enrolment) -> date:
    return enrolment.patient.site.today() + timedelta(days=1)
