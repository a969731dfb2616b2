"""How the site somebody is at writes hours and days: pages, boxes and messages ask here alike.

Set for the length of a request, as the time zone is (``programs.staff.wall_clock``).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, datetime, time

from patients.calc import days


@dataclass(frozen=True)
class Wall:
    """Hours of 12 or of 24; in which order figures are a day ("mdy", "dmy", "iso")."""

    is_12h: bool = False
    order: str = "iso"

    @property
    def code(self) -> str:
        """As a form carries it, so that it is read in the way it was shown."""
        return f"{self.order}-{12 if self.is_12h else 24}"

    @classmethod
    def of(cls, code: str) -> "Wall | None":
        """The way a form was shown in; None for one that does not say."""
        order, _, hours = code.partition("-")
        if order not in days.FIGURES or hours not in {"12", "24"}:
            return None
        return cls(hours == "12", order)


_wall: ContextVar[Wall] = ContextVar("wall", default=Wall())  # noqa: B039  (it is frozen)


def on_the_wall() -> Wall:
    return _wall.get()


@contextmanager
def written_as(wall: Wall) -> Iterator[None]:
    token = _wall.set(wall)
    try:
        yield
    finally:
        _wall.reset(token)


def clock(at: time | datetime) -> str:
    """An hour in the site's way; an instant is already in the site's own time."""
    return days.clock(at, is_12h=_wall.get().is_12h)


def in_figures(day: date) -> str:
    """A day in the site's order, as boxes show it."""
    return days.numeric_day(day, _wall.get().order)
