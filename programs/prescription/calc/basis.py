"""What a dose was written on, and what has changed in the person since.

What counts as a change is a project choice; none of it ends a dose: somebody looks and writes the
next one, the same or another.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from patients.calc.days import in_words

WEIGHT_CHANGE = 0.05  # of the weight a dose was written on; common practice, no source


@dataclass(frozen=True)
class Basis:
    """What was on record. None of a list: it was not noted then, so nothing is compared."""

    medicines: frozenset[str] | None = None
    devices: frozenset[str] | None = None
    event_on: date | None = None
    weight_kg: float | None = None
    tested_on: date | None = None

    def stored(self) -> dict[str, Any]:
        """As a document.

        Returns
        -------
        Plain values; days as ISO text.

        References
        ----------
        project choice
        """
        return {
            "medicines": None if self.medicines is None else sorted(self.medicines),
            "devices": None if self.devices is None else sorted(self.devices),
            "event_on": self.event_on.isoformat() if self.event_on else None,
            "weight_kg": self.weight_kg,
            "tested_on": self.tested_on.isoformat() if self.tested_on else None,
        }


def read_basis(stored: Mapping[str, Any]) -> Basis:
    """A basis from its document.

    Parameters
    ----------
    stored : as ``Basis.stored``; {} of a dose from before anything was noted.

    Returns
    -------
    The basis.

    References
    ----------
    project choice
    """

    def names(key: str) -> frozenset[str] | None:
        return None if stored.get(key) is None else frozenset(stored[key])

    def day(key: str) -> date | None:
        return date.fromisoformat(stored[key]) if stored.get(key) else None

    return Basis(
        names("medicines"), names("devices"), day("event_on"), stored.get("weight_kg"),
        day("tested_on"),
    )  # fmt: skip


@dataclass(frozen=True)
class Written:
    """A dose's day and what it was written on."""

    on: date
    basis: Basis = field(default_factory=Basis)


def why_review(written: Written, now: Basis) -> tuple[str, ...]:
    """What changed since a dose was written, so that somebody looks at it again.

    Parameters
    ----------
    written : day of the dose and its basis. Weight [kg].
    now : what is on record now. Weight [kg], the newest.

    Returns
    -------
    Short words, one a change: a medicine started or stopped, a device, an event, a weight that
    moved by 5 % or more, a newer test; empty when nothing changed. Where the basis was not noted,
    events and tests after the day of the dose still count.

    References
    ----------
    ``WEIGHT_CHANGE`` and what counts as a change: common practice, no source.
    """
    then = written.basis
    told = _changed("medicine", then.medicines, now.medicines)
    told += _changed("device", then.devices, now.devices)
    is_noted = then.medicines is not None
    for what, before, newest in [
        ("event", then.event_on, now.event_on),
        ("test", then.tested_on, now.tested_on),
    ]:
        known_to = before or (date.min if is_noted else written.on)
        if newest is not None and newest > known_to:
            told.append(f"{what} of {in_words(newest)}")
    moved = _moved(then.weight_kg, now.weight_kg)
    return (*told, f"weight {moved:+.0%}".replace("%", " %")) if moved else tuple(told)


def _changed(what: str, then: frozenset[str] | None, now: frozenset[str] | None) -> list[str]:
    if then is None or now is None:
        return []
    new = [f"{what} new: {name}" for name in sorted(now - then)]
    return new + [f"{what} ended: {name}" for name in sorted(then - now)]


def _moved(then: float | None, now: float | None) -> float:
    """Share by which the weight moved; 0 below ``WEIGHT_CHANGE``, or when it is not known."""
    if then is None or now is None:
        return 0.0
    # Rounded first: 80 and 84 kg are 5 % apart, and stay so in binary.
    share = round((now - then) / then, 6)
    return share if abs(share) >= WEIGHT_CHANGE else 0.0
