"""Taking the key of a form. Only services may: a key taken before the save it stands for would
drop the corrected form as known.
"""

import uuid
from typing import Any

from django.db import IntegrityError, connection, transaction

from patients.models import Submission
from patients.submissions import AlreadyTaken


def claim(key: uuid.UUID | None, *, by: Any) -> None:
    """Take a key inside the transaction that saves; raise AlreadyTaken the second time.

    A form without a key is saved each time it is sent; only hand-made requests lack one.
    """
    if key is None:
        return
    if not connection.in_atomic_block:
        raise transaction.TransactionManagementError("A key is claimed by the save it stands for.")
    try:
        with transaction.atomic():
            Submission.objects.create(key=key, user=by)
    except IntegrityError as error:
        made = Submission.objects.filter(key=key).values_list("made", flat=True).first()
        raise AlreadyTaken(made) from error


def note_made(key: uuid.UUID | None, made: int) -> None:
    """Note the row a form made, so that sending it again leads to the same row."""
    if key is not None:
        Submission.objects.filter(key=key).update(made=made)
