"""New rows of a list stored together; the one that the database refuses is found by halving."""

from collections.abc import Sequence

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from patients.history import as_new, insert_as, note_links_as
from programs.enrolment.lists.changes import Change
from programs.enrolment.lists.judging import NewReferral
from programs.enrolment.models import Referral
from programs.enrolment.referrals import services as referrals
from programs.staff.models import User


def store(rows: Sequence[NewReferral], *, by: User) -> None:
    """Store people, conditions and referrals; what refuses a row becomes its problems."""
    people = {id(row.patient): row.patient for row in rows}
    newcomers = [person for person in people.values() if person.pk is None]
    made: list[models.Model] = [*newcomers]
    for row in rows:
        made += [row.condition, row.referral, *row.others]
    try:
        with transaction.atomic():
            _insert(rows, newcomers, by=by)
    except IntegrityError:
        as_new(made)
        if len(rows) == 1:
            _store_alone(rows[0], by=by)
            return
        half = len(rows) // 2
        store(rows[:half], by=by)
        store(rows[half:], by=by)


def _insert(rows: Sequence[NewReferral], newcomers: Sequence[models.Model], *, by: User) -> None:
    insert_as(newcomers, by=by, reason="registered")
    for row in rows:
        row.referral.patient = row.patient
        for condition in (row.condition, *row.others):
            condition.patient = row.patient
    insert_as([c for row in rows for c in (row.condition, *row.others)], by=by, reason="added")
    for row in rows:
        row.referral.condition = row.condition
    insert_as([row.referral for row in rows], by=by, reason="received")
    through = Referral.others.through
    through.objects.bulk_create(
        through(referral_id=row.referral.pk, condition_id=other.pk)
        for row in rows
        for other in row.others
    )
    linked = [row.referral for row in rows if row.others]
    note_links_as(linked, by=by, reason="further conditions")


def _store_alone(row: NewReferral, *, by: User) -> None:
    """The way of every single referral: it asks again who is on record, and refuses in words."""
    is_newcomer = row.patient.pk is None
    try:
        with transaction.atomic():
            stored = referrals.refer(
                row.patient, row.condition, row.referral, row.others, one_or_two=None, by=by
            )
    except ValidationError as error:
        as_new([row.patient] if is_newcomer else [])
        row.problems += error.messages
    else:
        row.patient.pk = stored.patient_id  # another row may be of the same person
        row.patient._state.adding = False


def correct(changes: Sequence[Change], *, by: User) -> None:
    """Save what rows change of referrals on record, each as a version of its own.

    Raises
    ------
    ValidationError : a field or a constraint refuses one.
    """
    keys = [change.referral.pk for change in changes]
    locked = {
        row.pk: row
        for row in Referral.objects.select_for_update(of=("self",))
        .filter(pk__in=keys)
        .select_related("condition")
    }
    for change in changes:
        row = locked[change.referral.pk]
        for name, value in change.values.items():
            setattr(row, name, value)
        if change.event_on is not None:
            row.condition.happened_on = change.event_on
        referrals.change_referral(row, row.condition, seen=row.version, by=by)
