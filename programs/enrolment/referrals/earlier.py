"""What somebody was referred for before: the same event is not referred twice."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date

from patients.models import Patient
from programs.enrolment.models import Referral


@dataclass(frozen=True)
class Event:
    """What tells one referral from another of the same person."""

    kind: str
    happened_on: date | None
    referred_on: date
    is_waiting: bool = True
    referral: Referral | None = field(default=None, compare=False)  # once it is stored


def same_event(earlier: Iterable[Event], new: Event) -> Event | None:
    """The referral that came before for the same kind of event on the same day.

    Without an event date, a referral of the same kind that still waits, or of the same day, is
    taken for the same.
    """
    same = [e for e in earlier if (e.kind, e.happened_on) == (new.kind, new.happened_on)]
    if new.happened_on is None:
        waiting = [e for e in same if e.is_waiting]
        same = waiting or [e for e in same if e.referred_on == new.referred_on]
    return same[0] if same else None


class Earlier:
    """The referrals of many people, read in one query."""

    def __init__(self) -> None:
        self._of: dict[tuple[int | None, int], list[Event]] = {}

    def look_up(self, people: Collection[Patient]) -> None:
        unread = {p.pk: p for p in people if _key(p) not in self._of}
        for person in unread.values():
            self._of[_key(person)] = []
        found = Referral.objects.filter(patient__in=unread).order_by("referred_on", "pk")
        for row in found.select_related("condition") if unread else []:
            event = Event(
                row.condition.kind,
                row.condition.happened_on,
                row.referred_on,
                row.is_waiting,
                row,
            )
            self._of[_key(unread[row.patient_id])].append(event)

    def note(self, person: Patient, event: Event) -> None:
        """A referral about to be stored."""
        self._of.setdefault(_key(person), []).append(event)

    def of(self, person: Patient) -> list[Event]:
        """What somebody looked up was referred for."""
        return self._of.get(_key(person), [])

    def same(self, person: Patient, new: Event) -> Event | None:
        return same_event(self._of.get(_key(person), []), new)


def _key(person: Patient) -> tuple[int | None, int]:
    """A person on record may be read twice; somebody not stored yet is one object."""
    return person.pk, id(person) if person.pk is None else 0
