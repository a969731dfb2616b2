"""Booking a course's assessments, and saying why one was not obtained."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from assessments.calc.timing import KIND_NAMES
from assessments.models import Assessment
from patients.calc.days import in_words
from patients.claims import claim
from patients.history import save_as, save_changed_as, save_new_as
from programs.enrolment.models import Enrolment
from programs.staff.models import User

BOOKED_AHEAD = timedelta(days=90)  # after the planned end (common practice, no source)


@transaction.atomic
def open_assessment(enrolment: Enrolment, kind: str, number: int, *, by: User) -> Assessment:
    """The assessment of this kind and number, made if it is not there yet.

    Raises ValidationError for an unknown kind, or a number the course cannot have.
    """
    _may_be(enrolment, kind, number)
    Enrolment.objects.select_for_update().get(pk=enrolment.pk)
    found = enrolment.assessments.filter(kind=kind, number=number).first()
    if found is None:
        found = Assessment(enrolment=enrolment, kind=kind, number=number)
        save_as(found, by=by, reason="opened")
    return found


def _may_be(enrolment: Enrolment, kind: str, number: int) -> None:
    if kind not in KIND_NAMES:
        raise ValidationError("Unknown kind of assessment.")
    if not 1 <= number <= (enrolment.weeks if kind == "informal" else 1):
        raise ValidationError("This course has no such assessment.")


def _unperformed(assessment: Assessment) -> Assessment:
    """The row, locked; raises ValidationError once it has been performed."""
    row = Assessment.objects.select_for_update().get(pk=assessment.pk)
    _not_performed(row)
    return row


def _not_performed(row: Assessment) -> None:
    if row.performed_on is not None:
        raise ValidationError("This assessment was already performed.")


@transaction.atomic
def plan_assessment(
    assessment: Assessment, on: date | None, with_whom: User | None = None, *, by: User
) -> None:
    """Book a day, and with whom; no day gives the booking up.

    Raises
    ------
    ValidationError : already performed, a day gone by, or somebody of another site.
    """
    row = _unperformed(assessment)
    _book(row, assessment.enrolment, on, with_whom)
    save_as(row, by=by, reason="booked" if on else "booking given up")


def _book(row: Assessment, enrolment: Enrolment, on: date | None, with_whom: User | None) -> None:
    """Put the booking into a row, not saved; raises ValidationError as ``plan_assessment``."""
    site = enrolment.patient.site
    if on is not None and on < site.today():
        raise ValidationError(f"{in_words(on)} has gone by; book a day to come.")
    last = max(enrolment.planned_end_on, site.today()) + BOOKED_AHEAD
    if on is not None and on > last:
        raise ValidationError(
            f"{in_words(on)} lies long after the course; check the year, or book until "
            f"{in_words(last)}."
        )
    if with_whom is not None and site.pk not in with_whom.site_ids():
        raise ValidationError(f"{with_whom} does not work at {site}.")
    row.planned_on, row.booked_with = on, with_whom
    if on is not None:
        row.not_obtained_because = ""


@dataclass(frozen=True)
class Booking:
    """One line of a bulk booking."""

    enrolment: Enrolment
    kind: str
    number: int
    on: date


@transaction.atomic
def book_many(
    bookings: Sequence[Booking],
    with_whom: User | None,
    *,
    key: uuid.UUID | None = None,
    by: User,
) -> None:
    """Book several assessments, all or none.

    Raises
    ------
    AlreadyTaken : this very form was stored before.
    ValidationError : one that cannot be booked, named; none is booked then.
    """
    claim(key, by=by)
    errors = []
    rows = _opened(bookings, by=by)
    for wanted, row in zip(bookings, rows, strict=True):
        try:
            _not_performed(row)
            _book(row, wanted.enrolment, wanted.on, with_whom)
        except ValidationError as error:
            errors.append(f"{wanted.enrolment.patient}: {' '.join(error.messages)}")
    if errors:
        raise ValidationError(errors)
    fields = ["planned_on", "booked_with", "not_obtained_because"]
    save_changed_as(list({row.pk: row for row in rows}.values()), fields, by=by, reason="booked")


def _opened(bookings: Sequence[Booking], *, by: User) -> list[Assessment]:
    """The assessment of each, locked, as ``open_assessment`` gives one; in a few queries."""
    for wanted in bookings:
        _may_be(wanted.enrolment, wanted.kind, wanted.number)
    courses = {wanted.enrolment.pk for wanted in bookings}
    list(Enrolment.objects.select_for_update().filter(pk__in=courses).order_by("pk"))
    stored = Assessment.objects.select_for_update().filter(enrolment__in=courses).order_by("pk")
    found = {(row.enrolment_id, row.kind, row.number): row for row in stored}
    rows = []
    for wanted in bookings:
        fresh = Assessment(enrolment=wanted.enrolment, kind=wanted.kind, number=wanted.number)
        key = (wanted.enrolment.pk, wanted.kind, wanted.number)
        rows.append(found.setdefault(key, fresh))
    new = [row for row in found.values() if row.pk is None]
    save_new_as(new, by=by, reason="opened")
    return rows


@transaction.atomic
def not_obtained(assessment: Assessment, because: str, *, by: User) -> None:
    """Say why an assessment could not be obtained; it is not asked for again until booked.

    Raises ValidationError without a reason or once it was performed.
    """
    if not because.strip():
        raise ValidationError("Say why it could not be obtained.")
    row = _unperformed(assessment)
    row.not_obtained_because, row.planned_on = because.strip(), None
    save_as(row, by=by, reason="not obtained")


@transaction.atomic
def excuse(enrolment: Enrolment, kind: str, number: int, because: str, *, by: User) -> Assessment:
    """Why the assessment of this kind and number was not obtained, opened or not.

    Raises ValidationError as ``open_assessment`` and ``not_obtained`` do; nothing is opened then.
    """
    row = open_assessment(enrolment, kind, number, by=by)
    not_obtained(row, because, by=by)
    return row


@transaction.atomic
def give_up_bookings(enrolment: Enrolment, *, by: User) -> None:
    """Bookings with people of the site somebody was transferred from."""
    site = enrolment.patient.site_id
    waiting = enrolment.assessments.filter(performed_on=None, booked_with__isnull=False)
    for row in waiting.select_for_update(of=("self",)).select_related("booked_with"):
        if row.booked_with is not None and site not in row.booked_with.site_ids():
            row.planned_on, row.booked_with = None, None
            save_as(row, by=by, reason="transferred")
