"""Missed sessions come back: a make-up booked, what a course lacks booked anew, both undone."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from patients.calc.days import in_words
from patients.claims import claim
from patients.history import save_as
from programs.attendance.missed.queries import last_day_of, standing_of, why_no_make_up
from programs.enrolment.courses.make_ups import give_up_sessions, is_ahead, make_up_of
from programs.enrolment.courses.services import add_to_class, open_or_refuse
from programs.enrolment.models import ClassSlot, Enrolment, PlannedSession
from programs.enrolment.seats.appending import append_each
from programs.staff.models import User

REPLANNED = "missing sessions booked"


@transaction.atomic
def book_make_up(
    missed: PlannedSession,
    slot: ClassSlot,
    on: date,
    *,
    key: uuid.UUID | None = None,
    by: User,
) -> PlannedSession:
    """Another class in place of a missed session; it may take the seat of somebody absent.

    Raises
    ------
    AlreadyTaken : this very press was stored before.
    ValidationError : the session is not missed any more or made up already, the course is over or
        paused, the class lies behind or is not of the course's site, is full, not held, at the
        hour of another, a third of its day, or beyond the course.
    """
    claim(key, by=by)
    row = open_or_refuse(missed.enrolment)
    sitting = (missed.on, missed.slot_id)
    visit = row.visits.filter(meeting__slot=missed.slot_id, meeting__on=missed.on).first()
    if (other := make_up_of(row, sitting)) is not None:
        raise ValidationError(f"A make-up is booked already, on {in_words(other.on)}.")
    if why := why_no_make_up(row, visit):
        raise ValidationError(why)
    site = row.patient.site
    if on < site.today():
        raise ValidationError(f"{in_words(on)} lies behind.")
    if slot.site_id != site.pk:
        raise ValidationError(f"{slot} is not held at {site}.")
    if on > last_day_of(row):
        raise ValidationError(f"The course ends before {in_words(on)}.")
    if any(p.from_on <= on and (p.until_on is None or on < p.until_on) for p in row.pauses.all()):
        raise ValidationError(f"The course is paused on {in_words(on)}.")
    standing = standing_of(row, grace_days=0)
    sessions = standing.counted + standing.booked + 1
    return add_to_class(row, slot, on, sessions=sessions, makes_up=sitting, by=by)


@dataclass(frozen=True)
class Replanned:
    """What was booked of what a course lacked."""

    sessions: list[PlannedSession]
    n_missing: int

    @property
    def n_without(self) -> int:
        return self.n_missing - len(self.sessions)


@transaction.atomic
def book_missing(row: Enrolment, *, key: uuid.UUID | None = None, by: User) -> Replanned:
    """Book what a course lacks after its last session, in its usual classes.

    What the 36 weeks cannot hold stays missing, and is told.

    Raises
    ------
    AlreadyTaken : this very press was stored before.
    ValidationError : the course has ended or is paused, or nothing is missing any more.
    """
    claim(key, by=by)
    course = open_or_refuse(row)
    if course.pauses.filter(until_on=None).exists():
        raise ValidationError("The course is paused; what is left is booked when it resumes.")
    n = standing_of(course).missing
    if not n:
        raise ValidationError("Nothing is missing any more: every session to go is booked.")
    tomorrow = course.patient.site.today() + timedelta(days=1)
    back = max((p.until_on for p in course.pauses.all() if p.until_on), default=tomorrow)
    before = set(course.planned.values_list("pk", flat=True))
    append_each([course] * n, by=by, reason=REPLANNED, from_on=max(tomorrow, back))
    booked = course.planned.exclude(pk__in=before).select_related("slot").order_by("on", "slot")
    sessions = list(booked)
    if sessions:
        save_as(course, by=by, reason=f"{REPLANNED}: {len(sessions)}")
    return Replanned(sessions, n)


@transaction.atomic
def take_missing_back(row: Enrolment, keys: Sequence[int], *, by: User) -> tuple[int, int]:
    """Give up what ``book_missing`` booked, as long as nobody came to it.

    Returns how many were given up, and how many stay.
    """
    course = open_or_refuse(row)
    versions = PlannedSession.history.filter(history_type="+", history_change_reason=REPLANNED)  # type: ignore[attr-defined]
    mine = versions.filter(id__in=keys, enrolment_id=course.pk).values_list("id", flat=True)
    found = list(course.planned.filter(pk__in=list(mine)))
    ahead = [one for one in found if is_ahead(course, one)]
    if ahead:
        give_up_sessions(course, ahead, by=by, reason=f"{REPLANNED}: taken back")
    return len(ahead), len(found) - len(ahead)
