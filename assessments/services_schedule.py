"""What is due when: the course's assessments, booking them, and saying why one was not obtained."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from assessments.calc.timing import (
    KIND_NAMES,
    WAITING,
    Milestone,
    Pausing,
    Standing,
    changes_ahead,
    milestones,
    next_due,
    standings,
)
from assessments.models import Assessment, AssessmentPolicy
from patients.calc.days import in_words
from patients.history import save_as
from patients.submissions import claim
from programs.enrolment.calc.reviews import Review
from programs.enrolment.models import Enrolment
from programs.enrolment.services.enrolments import set_reviews
from programs.staff.models import User

BOOKED_AHEAD = timedelta(days=90)  # after the planned end (common practice, no source)


@dataclass(frozen=True)
class Line:
    """One assessment of a course: what it is, how it stands, and its record if there is one."""

    milestone: Milestone
    standing: Standing
    stored: Assessment | None
    today: date

    @property
    def is_waiting(self) -> bool:
        """May be done now, and is not."""
        return self.standing in WAITING

    @property
    def is_ahead(self) -> bool:
        """Still to do, now or later."""
        return self.is_waiting or self.standing is Standing.LATER

    @property
    def performed_on(self) -> date | None:
        """The day it was performed."""
        return self.stored.performed_on if self.stored is not None else None

    @property
    def booked_on(self) -> date | None:
        """The day booked for what was not performed yet."""
        if self.stored is None or self.stored.performed_on is not None:
            return None
        return self.stored.planned_on

    @property
    def is_booked(self) -> bool:
        """For today or later; a day gone by without a record is a booking not kept."""
        return self.booked_on is not None and self.booked_on >= self.today

    @property
    def on(self) -> date:
        """The day to be there: the booked one, else the due one."""
        return self.booked_on if self.booked_on and self.is_booked else self.milestone.due_on


def course_of(enrolment: Enrolment, today: date) -> list[Milestone]:
    """Every assessment the course asks for, shifted by its pauses, as the site checks.

    Reads ``pauses`` of the enrolment and the site's policy: prefetch them for many.
    """
    return milestones(
        enrolment.starts_on,
        enrolment.weeks,
        _pauses(enrolment),
        today,
        rhythm=AssessmentPolicy.of(enrolment.patient.site).rhythm_days,
        left_on=enrolment.closed_on,
        seeks_exit=enrolment.outcome != Enrolment.Outcome.DIED,
    )


def _pauses(enrolment: Enrolment) -> list[Pausing]:
    return [Pausing(p.from_on, p.until_on) for p in enrolment.pauses.all()]


def is_paused(enrolment: Enrolment, today: date) -> bool:
    """Reads ``pauses``: prefetch them for many."""
    return any(p.until_on is None and p.from_on <= today for p in enrolment.pauses.all())


def lines_of(enrolment: Enrolment, today: date) -> list[Line]:
    """How every assessment of a course stands. Reads ``assessments`` too: prefetch for many."""
    stored = {(a.kind, a.number): a for a in enrolment.assessments.all()}
    performed = {key: a.performed_on for key, a in stored.items() if a.performed_on is not None}
    excused = {key for key, a in stored.items() if a.not_obtained_because}
    found = standings(
        course_of(enrolment, today),
        performed,
        excused,
        today,
        pauses=_pauses(enrolment),
        booked={key: a.planned_on for key, a in stored.items() if a.planned_on is not None},
        has_left=not enrolment.is_open,
    )
    lines = [
        Line(milestone, standing, stored.pop((milestone.kind, milestone.number), None), today)
        for milestone, standing in found
    ]
    # Performed or booked beside the plan: before somebody left, or while the site checked weekly.
    for key, row in stored.items():
        if row.performed_on is not None:
            lines.append(Line(Milestone(*key, row.performed_on), Standing.DONE, row, today))
        elif row.planned_on is not None and row.planned_on >= today and enrolment.is_open:
            lines.append(Line(Milestone(*key, row.planned_on), Standing.OPEN, row, today))
    return sorted(lines, key=lambda line: line.milestone.due_on)


def next_line(lines: Sequence[Line]) -> Line | None:
    """What is due next; None when nothing is."""
    upcoming = next_due((line.milestone, line.standing) for line in lines)
    return next((line for line in lines if line.milestone is upcoming), None)


@transaction.atomic
def open_assessment(enrolment: Enrolment, kind: str, number: int, *, by: User) -> Assessment:
    """The assessment of this kind and number, made if it is not there yet.

    Raises ValidationError for an unknown kind, or a number the course cannot have.
    """
    if kind not in KIND_NAMES:
        raise ValidationError("Unknown kind of assessment.")
    if not 1 <= number <= (enrolment.weeks if kind == "informal" else 1):
        raise ValidationError("This course has no such assessment.")
    Enrolment.objects.select_for_update().get(pk=enrolment.pk)
    found = enrolment.assessments.filter(kind=kind, number=number).first()
    if found is None:
        found = Assessment(enrolment=enrolment, kind=kind, number=number)
        save_as(found, by=by, reason="opened")
    return found


def _unperformed(assessment: Assessment) -> Assessment:
    """The row, locked; raises ValidationError once it has been performed."""
    row = Assessment.objects.select_for_update().get(pk=assessment.pk)
    if row.performed_on is not None:
        raise ValidationError("This assessment was already performed.")
    return row


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
    site = assessment.enrolment.patient.site
    if on is not None and on < site.today():
        raise ValidationError(f"{in_words(on)} has gone by; book a day to come.")
    last = max(assessment.enrolment.planned_end_on, site.today()) + BOOKED_AHEAD
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
    save_as(row, by=by, reason="booked" if on else "booking given up")
    tell_class_list(assessment.enrolment, by=by)


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
    for wanted in bookings:
        try:
            row = open_assessment(wanted.enrolment, wanted.kind, wanted.number, by=by)
            plan_assessment(row, wanted.on, with_whom, by=by)
        except ValidationError as error:
            errors.append(f"{wanted.enrolment.patient}: {' '.join(error.messages)}")
    if errors:
        raise ValidationError(errors)


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
    tell_class_list(assessment.enrolment, by=by)


@transaction.atomic
def give_up_bookings(enrolment: Enrolment, *, by: User) -> None:
    """Bookings with people of the site somebody was transferred from."""
    site = enrolment.patient.site_id
    waiting = enrolment.assessments.filter(performed_on=None, booked_with__isnull=False)
    for row in waiting.select_for_update(of=("self",)).select_related("booked_with"):
        if row.booked_with is not None and site not in row.booked_with.site_ids():
            row.planned_on, row.booked_with = None, None
            save_as(row, by=by, reason="transferred")


def reviews_of(enrolment: Enrolment, today: date) -> list[Review]:
    """What is due next, today and on every later day on which that changes with time alone.

    A booked day wins over the due day. What a pause that still lasts will move is not foreseen:
    coming back tells anew.
    """
    booked = [a.planned_on for a in enrolment.assessments.all() if a.planned_on is not None]
    found: list[Review] = []
    for day in changes_ahead(course_of(enrolment, today), booked, today):
        line = next_line(lines_of(enrolment, day))
        name, on = (line.milestone.name, line.on) if line else ("", day)
        if not found or (found[-1].name, found[-1].due_on) != (name, on):
            found.append(Review(day, name, on))
    return found


def tell_class_list(enrolment: Any, *, by: User) -> None:
    """Let the class list know what comes due; called whenever that may have changed."""
    fresh = (
        Enrolment.objects.select_related("patient__site__assessment_policy")
        .prefetch_related("pauses", "assessments")
        .get(pk=enrolment.pk)
    )
    reviews = reviews_of(fresh, fresh.patient.site.today()) if fresh.is_open else []
    has_baseline = any(
        a.kind == Assessment.Kind.BASELINE and a.performed_on for a in fresh.assessments.all()
    )
    set_reviews(fresh, reviews, has_baseline=has_baseline, by=by)
