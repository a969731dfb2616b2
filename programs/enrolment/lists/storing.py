"""New rows of a list stored together; the one that the database refuses is found by halving."""

from collections.abc import Sequence

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from patients.history import as_new, insert_as
from programs.enrolment.lists.judging import NewReferral
from programs.enrolment.referrals import services as referrals
from programs.staff.models import User


def store(rows: Sequence[NewReferral], *, by: User) -> None:
    """Store people, conditions and referrals; what refuses a row becomes its problems."""
    people = {id(row.patient): row.patient for row in rows}
    newcomers = [person for person in people.values() if person.pk is None]
    made: list[models.Model] = [*newcomers]
    for row in rows:
        made += [row.condition, row.referral]
    try:
        with transaction.atomic():
            insert_as(newcomers, by=by, reason="registered")
            for row in rows:
                row.condition.patient = row.referral.patient = row.patient
            insert_as([row.condition for row in rows], by=by, reason="added")
            for row in rows:
                row.referral.condition = row.condition
            insert_as([row.referral for row in rows], by=by, reason="received")
    except IntegrityError:
        as_new(made)
        if len(rows) == 1:
            _store_alone(rows[0], by=by)
            return
        half = len(rows) // 2
        store(rows[:half], by=by)
        store(rows[half:], by=by)


def _store_alone(row: NewReferral, *, by: User) -> None:
    """The way of every single referral: it asks again who is on record, and refuses in words."""
    is_newcomer = row.patient.pk is None
    try:
        with transaction.atomic():
            stored = referrals.refer(
                row.patient, row.condition, row.referral, one_or_two=None, by=by
            )
    except ValidationError as error:
        as_new([row.patient] if is_newcomer else [])
        row.problems += error.messages
    else:
        row.patient.pk = stored.patient_id  # another row may be of the same person
        row.patient._state.adding = False
