"""The timetable: classes, closed days, and single classes that are different.

Whoever was booked on a day that falls away gets a later session instead, and the page is told how
many could not.
"""

from dataclasses import dataclass, field
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from patients.history import save_as, save_changed_as
from programs.enrolment.courses.changes import follow_first_session
from programs.enrolment.courses.make_ups import BEGUN
from programs.enrolment.courses.services import still_eligible
from programs.enrolment.models import (
    ClassChange,
    ClassSlot,
    Closure,
    Enrolment,
    Pause,
    PlannedSession,
)
from programs.enrolment.seats import booking
from programs.enrolment.seats.appending import append_each
from programs.staff.models import Site, User


@dataclass
class Moved:
    """What became of the sessions of a day that fell away."""

    moved: list[Enrolment] = field(default_factory=list)  # they have a later session instead
    without: list[Enrolment] = field(default_factory=list)  # nobody could give them another day
    to_judge: list[Enrolment] = field(default_factory=list)  # the rule says otherwise now


@transaction.atomic
def save_class(slot: ClassSlot, *, by: User) -> None:
    """Store a class; raises ValidationError when its weekday changes under booked people."""
    if slot.pk is not None:
        stored = ClassSlot.objects.select_for_update().get(pk=slot.pk)
        booked = stored.planned.filter(on__gte=stored.site.today())
        if stored.weekday != slot.weekday and booked.exists():
            raise ValidationError("People are booked; close this class and add a new one.")
        most = _fullest(stored)
        # A day may hold more: other seats on that day, or a make-up beside somebody who came back.
        if slot.seats < min(most, stored.seats):
            raise ValidationError(f"{most} people are booked on one day; seats cannot be fewer.")
    save_as(slot, by=by, reason="timetable")


def _fullest(slot: ClassSlot) -> int:
    ahead = slot.planned.filter(on__gte=slot.site.today()).values_list("on", flat=True)
    counts: dict[date, int] = {}
    for day in ahead:
        counts[day] = counts.get(day, 0) + 1
    return max(counts.values(), default=0)


@transaction.atomic
def close_day(site: Site, on: date, reason: str, *, by: User) -> Moved:
    """Close a site for a day and plan its sessions anew; raises ValidationError for a past day."""
    _not_past(site, on)
    _hold(ClassSlot.objects.filter(site=site), on)
    save_as(Closure(site=site, on=on, reason=reason), by=by)
    booked = _unbegun(PlannedSession.objects.filter(slot__site=site, on=on))
    return _give_others(booked, by=by, reason=f"closed: {reason}")


@transaction.atomic
def open_day(closure: Closure, *, by: User) -> None:
    """Take a closed day back: classes are held again, moved sessions stay where they went."""
    _not_past(closure.site, closure.on)
    closure.is_withdrawn = True
    save_as(closure, by=by, reason="open after all")


@transaction.atomic
def change_class(change: ClassChange, *, by: User) -> Moved:
    """Cancel one class, or give it another time or other seats on one day.

    Raises
    ------
    ValidationError : not held that day, in the past, or fewer seats than people booked.
    """
    site = change.slot.site
    _not_past(site, change.on)
    (slot,) = _hold(ClassSlot.objects.filter(pk=change.slot_id), change.on)
    if change.on.weekday() != slot.weekday:
        raise ValidationError(f"{slot} is not held on {change.on:%A}.")
    n_booked = slot.planned.filter(on=change.on).count()
    n_booked -= booking.empty_seats([slot], (change.on, change.on))[change.on, slot.pk]
    if change.seats is not None and change.seats < n_booked:
        raise ValidationError(f"{n_booked} people are booked on this day.")
    save_as(change, by=by)
    if not change.is_cancelled:
        return Moved()
    unbegun = _unbegun(slot.planned.filter(on=change.on))
    return _give_others(unbegun, by=by, reason=f"class cancelled: {change.reason}")


def _unbegun(booked: QuerySet[PlannedSession]) -> list[PlannedSession]:
    """Sessions nobody has come to yet: whoever has arrived or is noted absent stays as is.

    Visits belong to a room further right; only the database relation is followed, not its code.
    """
    begun = Enrolment.objects.filter(
        pk=OuterRef("enrolment"),
        visits__on=OuterRef("on"),
        visits__meeting__slot=OuterRef("slot"),
        visits__state__in=BEGUN,
    )
    return list(booked.exclude(Exists(begun)).select_related("enrolment"))


def _hold(slots: QuerySet[ClassSlot], on: date) -> list[ClassSlot]:
    """Hold the booked courses, then the classes: the order in which everybody else does."""
    courses = Enrolment.objects.filter(planned__slot__in=slots, planned__on=on)
    keys = sorted(set(courses.values_list("pk", flat=True)))
    list(Enrolment.objects.select_for_update(of=("self",)).filter(pk__in=keys).order_by("pk"))
    return booking.lock(slots)


def _give_others(booked: list[PlannedSession], *, by: User, reason: str) -> Moved:
    """Another day for each; a course that ended or is paused only gives its session up."""
    booking.give_up(booked, by=by, reason=reason)
    keys = {session.enrolment_id for session in booked}
    paused = Pause.objects.filter(enrolment__in=keys, until_on=None).values_list("enrolment")
    courses = Enrolment.objects.select_for_update(of=("self",)).select_related("patient__site")
    # Resuming plans what is left of a paused course.
    going_on = courses.still_open().filter(pk__in=keys).exclude(pk__in=paused).in_bulk()
    lost = [(s.on, going_on[s.enrolment_id]) for s in booked if s.enrolment_id in going_on]
    given = append_each([row for _, row in lost], by=by, reason=reason)
    found = Moved()
    for (day, row), other in zip(lost, given, strict=True):
        (found.moved if other else found.without).append(row)
        if row.starts_on == day and not row.planned.filter(on=day).exists():
            follow_first_session(row)  # the day that fell away was the first session
            if not _still_meets(row):
                found.to_judge.append(row)
    save_changed_as(list(going_on.values()), ["starts_on", "planned_end_on"], by=by, reason=reason)
    return found


def _still_meets(row: Enrolment) -> bool:
    """The rule, or the clinician's override of it, holds for the first session's new day."""
    try:
        still_eligible(row.referral, row.starts_on)
    except ValidationError:
        return False
    return True


def _not_past(site: Site, on: date) -> None:
    if on < site.today():
        raise ValidationError("What lies behind stays as it was; choose today or a later day.")
