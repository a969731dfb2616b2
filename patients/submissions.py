"""Idempotency: the same form sent twice counts once."""

import uuid
from typing import Any

from django.db import IntegrityError, transaction

from patients.models import Submission


class AlreadyTaken(Exception):
    """This very form was already saved; show its result instead of saving again."""


def new_key() -> uuid.UUID:
    """A key for a form that is about to be shown."""
    return uuid.uuid4()


def key_in(data: Any) -> uuid.UUID | None:
    """The submission key among posted data, or None when there is none worth the name."""
    try:
        return uuid.UUID(data.get("submission_key", ""))
    except ValueError:
        return None


def claim(key: uuid.UUID | None, *, by: Any) -> None:
    """Take a key inside the transaction that saves; raise AlreadyTaken the second time.

    A form without a key is saved each time it is sent; only hand-made requests lack one.
    """
    if key is None:
        return
    try:
        with transaction.atomic():
            Submission.objects.create(key=key, user=by)
    except IntegrityError as error:
        raise AlreadyTaken from error


def is_taken(key: uuid.UUID) -> bool:
    """Whether a form was saved before; only ``claim`` decides, this spares a wrong word."""
    return Submission.objects.filter(key=key).exists()
