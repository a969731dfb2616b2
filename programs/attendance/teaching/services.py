"""What was taught to whom, and what was done at home."""

import uuid
from collections.abc import Collection
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction

from patients.claims import claim
from patients.history import save_as, save_new_as
from programs.attendance.models import HomeReport, Teaching
from programs.enrolment.models import Enrolment
from programs.staff.models import User


@transaction.atomic
def teach(
    enrolments: Collection[Enrolment],
    on: date,
    component: str,
    topic: str,
    minutes: int | None,
    *,
    key: uuid.UUID | None = None,
    by: User,
) -> list[Teaching]:
    """One topic taught to some people on a day.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValidationError : a day ahead, an unknown component, or impossible minutes.
    """
    claim(key, by=by)
    rows = []
    for enrolment in enrolments:
        if on > enrolment.patient.site.today():
            raise ValidationError("Education is recorded on its day or afterwards.")
        rows.append(
            Teaching(enrolment=enrolment, on=on, component=component, topic=topic, minutes=minutes)
        )
    save_new_as(rows, by=by, reason="education recorded")
    return rows


@transaction.atomic
def withdraw_teaching(teaching: Teaching, *, by: User) -> None:
    """Entered in error: it stays in the record, marked."""
    row = Teaching.objects.select_for_update().get(pk=teaching.pk)
    row.is_withdrawn = True
    save_as(row, by=by, reason="entered in error")


@transaction.atomic
def report_home(row: HomeReport, *, by: User) -> None:
    """Store a week's report, new or corrected; raises ValidationError for a week ahead."""
    if row.week_of > row.enrolment.patient.site.today():
        raise ValidationError("This week has not begun.")
    save_as(row, by=by, reason="home report")
