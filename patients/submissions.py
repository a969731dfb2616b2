"""Idempotency: the same form sent twice counts once.

Whoever saves takes the key inside the saving transaction: ``patients.claims``, for services only.
"""

import uuid
from collections.abc import Mapping
from typing import Any

from patients.models import Submission

# Not typed by anybody: the token of the page, and the key itself.
BESIDE_THE_POINT = ("csrfmiddlewaretoken", "submission_key")


class AlreadyTaken(Exception):
    """This very form was already saved; show its result instead of saving again."""

    def __init__(self, made: int | None = None) -> None:
        self.made = made  # the row that the first sending made, where its service noted it
        super().__init__("This form was saved before.")


def new_key() -> uuid.UUID:
    """A key for a form that is about to be shown."""
    return uuid.uuid4()


def key_of(shown: uuid.UUID | None, data: Any) -> uuid.UUID | None:
    """The key of what was sent: of this showing of the form, with these very values.

    Sent again after a lost answer it is the same. Values changed since the form was saved are
    another key, so that they are judged like any other save and never dropped for being known.
    """
    if shown is None:
        return None
    lists = data.lists() if hasattr(data, "lists") else data.items()
    typed = sorted((n, v) for n, v in lists if not n.endswith(BESIDE_THE_POINT))
    return uuid.uuid5(shown, repr(typed))


def key_in(data: Mapping[str, Any]) -> uuid.UUID | None:
    """The key of posted data, or None when there is none worth the name."""
    try:
        return key_of(uuid.UUID(data.get("submission_key", "")), data)
    except ValueError:
        return None


def is_taken(key: uuid.UUID) -> bool:
    """Whether a form was saved before; only ``claim`` decides, this spares a wrong word."""
    return Submission.objects.filter(key=key).exists()
