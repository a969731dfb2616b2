"""Whoever looks at records, as this room may know them: the account itself belongs to staff."""

from typing import Any, Protocol

from django.http import HttpRequest


class Viewer(Protocol):
    """Somebody signed in."""

    pk: Any

    @property
    def is_physician(self) -> bool:
        """Somebody who may lift a limit."""

    def site_ids(self) -> list[int]:
        """The sites the person works at."""

    def has_perm(self, perm: str, obj: Any = None) -> bool:
        """Whether the person's role may do this."""


class ViewerRequest(HttpRequest):
    """A request of somebody signed in; the sign-in itself is asked for everywhere by default."""

    user: Viewer  # type: ignore[assignment]
