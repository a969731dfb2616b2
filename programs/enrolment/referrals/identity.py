"""Is a newcomer somebody we know? By record number, else by name and birth date; never guessed."""

import difflib
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError
from django.db.models import Q

from patients import services as patient_services
from patients.calc.days import in_words
from patients.calc.find import plain_words
from patients.history import save_as
from patients.models import FindKey, Patient
from programs.enrolment.calc.alike import days_alike, folded, names_alike
from programs.staff.models import Site, User

SAME, ANOTHER = "same", "another"


@dataclass(frozen=True)
class Match:
    """Who in the records a newcomer may be."""

    patient: Patient | None = None  # taken for the same person unless somebody says otherwise
    conflict: str = ""  # why the record cannot be taken as it is
    twin: Patient | None = None  # same name and birth date, not tied by a record number
    alike: Patient | None = None  # only resembles; never taken for the same without an answer
    why: str = ""  # how they resemble each other
    holder: Patient | None = None  # somebody else who has the record number


class PersonQuestion(ValidationError):
    """Somebody of the same name and birth date is on record: one person or two?"""

    def __init__(self, twin: Patient) -> None:
        self.twin = twin
        number = f", record {twin.record_number}" if twin.record_number else ""
        super().__init__(
            f"{twin}, born {in_words(twin.born_on)}{number}, is on record: one person or two?"
        )


class People:
    """People of a site, looked up for many newcomers in one query."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self._by_number: dict[str, Patient] = {}
        self._by_name: dict[tuple[str, str, date], Patient] = {}
        self._by_day: dict[date, list[Patient]] = {}
        self._by_letters: dict[frozenset[str], list[Patient]] = {}

    def look_up(self, newcomers: Collection[Patient]) -> list[Patient]:
        """Learn who on record shares a number or a birth date with one of these."""
        numbers = {n.record_number for n in newcomers if n.record_number}
        days = {n.born_on for n in newcomers}
        found = Patient.objects.filter(
            Q(record_number__in=numbers) | Q(born_on__in=days), site=self.site
        )
        people = list(found) if newcomers else []
        for person in people:
            self.add(person)
        return people

    def look_up_alike(self, newcomers: Collection[Patient]) -> None:
        """Learn who has nearly the same name, whatever the birth date; after ``look_up``."""
        days = {n.born_on for n in newcomers}
        keys = {key for n in newcomers for key in _letters_of(n)}
        named = FindKey.objects.filter(key__in=keys).values("patient")
        found = Patient.objects.filter(site=self.site, pk__in=named).exclude(born_on__in=days)
        wanted = {(_folded(n), n.born_on) for n in newcomers}
        by_letters: dict[frozenset[str], list[date]] = {}
        for letters, day in wanted:
            by_letters.setdefault(letters, []).append(day)
        for person in found if newcomers else []:
            nearby = by_letters.get(_folded(person), [])
            if any(days_alike(day, person.born_on) for day in nearby):
                self.add(person)

    def add(self, person: Patient) -> None:
        """Somebody on record, or about to be; who was there first stands."""
        if person.record_number:
            self._by_number.setdefault(person.record_number, person)
        if self._by_name.setdefault(_name_of(person), person) is person:
            self._by_day.setdefault(person.born_on, []).append(person)
            self._by_letters.setdefault(_folded(person), []).append(person)

    def match(self, newcomer: Patient) -> Match:
        """By record number, else by name and birth date; a clash is named, never guessed."""
        by_number = self._by_number.get(newcomer.record_number) if newcomer.record_number else None
        if by_number is not None:
            if by_number.born_on != newcomer.born_on or not _alike(by_number, newcomer):
                return Match(
                    conflict=f"record number {newcomer.record_number} belongs to {by_number}, "
                    f"born {in_words(by_number.born_on)}",
                    holder=by_number,
                )
            return Match(by_number)
        twin = self._by_name.get(_name_of(newcomer))
        if twin is not None and newcomer.record_number and twin.record_number:
            words = f"same name and birth date as record {twin.record_number}; one person or two?"
            return Match(None, words, twin)
        if twin is None:
            return self._resembling(newcomer)
        return Match(twin, twin=twin)

    def _resembling(self, newcomer: Patient) -> Match:
        mine = (newcomer.given_name, newcomer.family_name)
        for person in self._by_day.get(newcomer.born_on, []):
            if why := names_alike(mine, (person.given_name, person.family_name)):
                return Match(alike=person, why=why)
        for person in self._by_letters.get(_folded(newcomer), []):
            if why := days_alike(newcomer.born_on, person.born_on):
                return Match(alike=person, why=why)
        return Match()


def _name_of(person: Patient) -> tuple[str, str, date]:
    """Whatever the case: SQLite would fold only A to Z."""
    return person.family_name.casefold(), person.given_name.casefold(), person.born_on


def _folded(person: Patient) -> frozenset[str]:
    """Both names in either order."""
    return frozenset({folded(person.given_name), folded(person.family_name)})


def _letters_of(person: Patient) -> set[str]:
    """The keys (``FindKey``) of the family name, under which a swapped given name stands too."""
    name = person.family_name.lower()
    names = [name]
    for short, long in {"ü": "ue", "ö": "oe", "ä": "ae"}.items():
        names += [name.replace(short, long), name.replace(long, short)]
    return {key[:60] for key in map("".join, map(plain_words, names)) if key}


def find_patient(site: Site, newcomer: Patient) -> Match:
    """Who of the site's people one newcomer may be."""
    people = People(site)
    people.look_up([newcomer])
    return people.match(newcomer)


def _alike(a: Patient, b: Patient) -> bool:
    """The same family name but for spelling slips."""
    left, right = a.family_name.casefold(), b.family_name.casefold()
    return difflib.SequenceMatcher(None, left, right).ratio() >= 0.7


def who_is(newcomer: Patient, one_or_two: str | None, *, by: User) -> Patient:
    """The patient on record a newcomer is, or the newcomer stored as a new one.

    ``one_or_two`` is SAME, ANOTHER, "" (ask) or None (take a name match for the same).

    Raises
    ------
    PersonQuestion : somebody of the same name and birth date is on record and nobody has answered.
    ValidationError : a record number belongs to somebody else.
    """
    known = find_patient(newcomer.site, newcomer)
    if known.twin is not None:
        if one_or_two == "":
            raise PersonQuestion(known.twin)
        if one_or_two == SAME:
            return _completed(known.twin, newcomer, by=by)
        if one_or_two == ANOTHER:
            return patient_services.register(newcomer, by=by)
    if known.conflict:
        raise ValidationError(f"Please check: {known.conflict}.")
    return known.patient or patient_services.register(newcomer, by=by)


def _completed(known: Patient, newcomer: Patient, *, by: User) -> Patient:
    """The record on file, with a number or phone it lacked."""
    fresh = {
        name: getattr(newcomer, name)
        for name in ("record_number", "phone", "sex")
        if getattr(newcomer, name) and not getattr(known, name)
    }
    if fresh:
        for name, value in fresh.items():
            setattr(known, name, value)
        save_as(known, by=by, reason="completed by a referral")
    return known
