"""Doses that no physician has signed: in use unsigned, or waiting for it."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any, NamedTuple

from django.db.models import F, QuerySet

from patients.prepared import Prepared
from programs.prescription.calc.intensity import heart_rate_words, rpe_words
from programs.prescription.models import Prescription

NUMBERS = ("low_bpm", "high_bpm", "rpe_low", "rpe_high", "minutes", "per_week", "upper_limit_bpm")


class UnsignedDose(NamedTuple):
    """A dose beyond what is signed, and the one a physician signed before it."""

    enrolment: int
    from_on: date
    by: str
    dose: str
    signed: str  # "" when none was ever signed
    beyond: str = ""  # what of it lies beyond what is signed
    waits: bool = False  # nobody exercises by it before it is signed

    @property
    def key(self) -> str:
        return str(self.enrolment)

    @property
    def order(self) -> tuple[date, int]:
        """The longest unsigned first."""
        return self.from_on, self.enrolment


def dose_words(numbers: Sequence[Any]) -> str:
    """A dose in words, from its ``NUMBERS``."""
    low, high, rpe_low, rpe_high, minutes, per_week, limit = numbers
    parts = [heart_rate_words(low, high), rpe_words(rpe_low, rpe_high)]
    parts += [f"{minutes} min", f"{per_week} a week"]
    parts += [f"upper limit {limit} /min"] if limit else []
    return ", ".join(part for part in parts if part)


def _unsigned(keys: Any) -> QuerySet[Any, Any]:
    rows = Prescription.objects.filter(
        enrolment__pk__listed=keys, replaced_on=None, signed_at=None, covered_by=None
    ).order_by()
    return rows.values_list(
        "enrolment",
        "valid_from",
        F("by__first_name"),
        F("by__last_name"),
        "beyond",
        "is_waiting",
        *NUMBERS,
    )


def _signed(keys: Any) -> QuerySet[Any, Any]:
    """Signed doses, the latest last."""
    rows = Prescription.objects.filter(enrolment__pk__listed=keys, signed_at__isnull=False)
    return rows.order_by("signed_at", "pk").values_list("enrolment", *NUMBERS)


_UNSIGNED, _SIGNED = Prepared(_unsigned, keys=list), Prepared(_signed, keys=list)


def unsigned_doses(courses: Iterable[int]) -> list[UnsignedDose]:
    """Of these courses the doses that need a signature: two queries of bare values."""
    waiting = _UNSIGNED(keys=list(courses))
    if not waiting:
        return []
    signed = {pk: numbers for pk, *numbers in _SIGNED(keys=[row[0] for row in waiting])}
    found = [
        UnsignedDose(
            pk,
            from_on,
            f"{first} {last}".strip(),
            dose_words(numbers),
            dose_words(signed[pk]) if pk in signed else "",
            beyond,
            waits,
        )
        for pk, from_on, first, last, beyond, waits, *numbers in waiting
    ]
    return sorted(found, key=lambda one: one.order)
