"""Every row of a hospital's list and what would become of it. Nothing here is stored."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError

from patients.calc.days import in_words
from patients.history import check
from patients.models import Condition, Patient
from programs.enrolment.calc.lists.asking import Question
from programs.enrolment.calc.lists.conditions import KIND_WORDS
from programs.enrolment.calc.lists.rows import ListedRow, Reader
from programs.enrolment.lists.changes import Change, change_of, differences
from programs.enrolment.models import Referral
from programs.enrolment.referrals.earlier import Earlier, Event
from programs.enrolment.referrals.identity import ANOTHER, SAME, People
from programs.staff.models import Site

BATCH = 100  # rows looked up together, and stored together: well under a second's work
NEARBY_DAYS = 31  # an event of the same kind so near may be the same one, corrected
NEW, SAME_AS_BEFORE, CHANGED, ASKED, BAD = "new", "known", "changed", "asked", "bad"
WITHOUT, CHANGE, KEEP = "without", "change", "keep"


@dataclass
class NewReferral:
    """What a new row adds, not stored yet; the person may be on record."""

    patient: Patient
    condition: Condition
    referral: Referral
    problems: list[str]  # the row's own
    others: list[Condition] = field(default_factory=list)


@dataclass
class JudgedRow:
    """A row with its fate."""

    row: ListedRow
    fate: str
    new: NewReferral | None = None
    change: Change | None = None

    @property
    def key(self) -> str:
        """What tells it from the other rows of its list, for pages."""
        return f"{self.row.line}"

    @property
    def came(self) -> str:
        """The row as it came, cell by cell."""
        return " | ".join(cell for cell in self.row.cells if cell)[:600]

    @property
    def questions(self) -> list[Question]:
        """What holds the row; nothing holds one that is refused."""
        return [] if self.fate == BAD else self.row.open

    @property
    def kind_words(self) -> list[str]:
        """Its conditions as they will be stored, each with its day and code."""
        return [
            " ".join(
                filter(
                    None,
                    [
                        str(Condition.Kind(named.kind).label),
                        in_words(named.happened_on) if named.happened_on else "",
                        named.icd10,
                    ],
                )
            )
            for named in self.row.conditions
        ]


def in_batches(rows: Sequence[Any]) -> Iterator[Sequence[Any]]:
    for start in range(0, len(rows), BATCH):
        yield rows[start : start + BATCH]


class Judge:
    """Judges rows in the order of the file; who is on record is looked up a batch at a time."""

    def __init__(self, site: Site, reader: Reader, went_in: Iterable[ListedRow] = ()) -> None:
        """``went_in`` are rows of the same file that were taken in before."""
        self.site, self.reader = site, reader
        self.people, self.earlier = People(site), Earlier()
        self.numbers: dict[str, Any] = {}  # number -> birth date, of this file
        self.events: dict[Any, ListedRow] = {}  # of this file, the first row of each
        self.same_day: dict[Any, ListedRow] = {}  # by person and day of the referral
        for row in went_in:
            self._remember(row)

    def judge(self, batch: Sequence[ListedRow]) -> list[JudgedRow]:
        newcomers = {
            id(row): _patient(self.site, row)
            for row in batch
            if row.is_good and row.born_on and row.family_name
        }
        found = self.people.look_up(newcomers.values())
        self.people.look_up_alike(newcomers.values())
        self.earlier.look_up(found)
        return [self._judge(row, newcomers.get(id(row))) for row in batch]

    def _judge(self, row: ListedRow, newcomer: Patient | None) -> JudgedRow:
        if row.problems:
            return JudgedRow(row, BAD)
        person = self._person(row, newcomer) if newcomer is not None else None
        if row.problems:
            return JudgedRow(row, BAD)
        if row.open or person is None or row.referred_on is None:
            return JudgedRow(row, ASKED)
        if person.pk is not None:
            self.earlier.look_up([person])
        main = row.main
        event = Event(main.kind, main.happened_on, row.referred_on)
        if _key(row) in self.events:
            return self._twice(row, self.events[_key(row)])
        self._ask_beside(row)
        before = self.earlier.same(person, event) or self._nearby(row, person)
        if row.problems:
            return JudgedRow(row, BAD)
        if row.open:
            return JudgedRow(row, ASKED)
        if before is not None:
            return self._against(row, before)
        new = NewReferral(
            person,
            _condition(main),
            _referral(row),
            row.problems,
            [_condition(named) for named in row.conditions[1:]],
        )
        _check(new)
        if new.problems:
            return JudgedRow(row, BAD)
        self._remember(row)
        self.people.add(person)
        self.earlier.note(person, event)
        return JudgedRow(row, NEW, new)

    # --- who it is -------------------------------------------------------------------------

    def _person(self, row: ListedRow, newcomer: Patient) -> Patient | None:
        """Who of the record a row is, or a newcomer; None while that is open."""
        number, taken = newcomer.record_number, ""
        if number and self.numbers.get(number, row.born_on) != row.born_on:
            taken = f"Record number {number} is in this file twice, for two people."
        known = self.people.match(newcomer)
        if known.holder is not None:
            taken = f"{known.conflict[0].upper()}{known.conflict[1:]}."
        if taken:
            said = self._ask_number(row, taken, known.holder)
            if said == SAME and known.holder is not None:
                return known.holder
            if said != WITHOUT:
                return None
            newcomer.record_number = row.record_number = ""
            known = self.people.match(newcomer)
        why = known.why or "the same name and birth date under another record number"
        other = known.twin or known.alike
        if known.patient is not None:
            other = known.patient
            if not (row.sex and other.sex and row.sex != other.sex):
                _keep_what_differs(row, other)
                return other
            why = f"recorded as {other.sex}, here as {row.sex}"
        if other is None:
            return newcomer
        said = self._ask_person(row, other, why)
        if said == SAME:
            _keep_what_differs(row, other)
        return {SAME: other, ANOTHER: newcomer}.get(said)

    def _ask_number(self, row: ListedRow, words: str, holder: Patient | None) -> str:
        choices = [(WITHOUT, "another person: store this one without the number")]
        if holder is not None:
            choices.insert(0, (SAME, f"the same person: add to the record of {holder}"))
        return self.reader.ask(row, "number", f"{words} Who is this?", choices)

    def _ask_person(self, row: ListedRow, other: Patient, why: str) -> str:
        where = "on record" if other.pk else "earlier in this file"
        number = f", record {other.record_number}" if other.record_number else ""
        return self.reader.ask(
            row,
            "person",
            f"{row.given_name} {row.family_name} resembles {other}, born "
            f"{in_words(other.born_on)}{number}, {where}: {why}. One person or two?",
            [(SAME, "the same person: add to that record"), (ANOTHER, "another person")],
        )

    def _twice(self, row: ListedRow, first: ListedRow) -> JudgedRow:
        """The same event of the same person again; which holds where the two differ is asked."""
        differs = differences(row, first)
        if differs:
            words = f"The same event as in line {first.line}, with another {', '.join(differs)}."
            said = self.reader.ask(
                row, "twice", words, [("first", f"line {first.line} holds, this one adds nothing")]
            )
            if row.problems:
                return JudgedRow(row, BAD)
            if not said:
                return JudgedRow(row, ASKED)
        row.remarks.append("duplicate row")
        return self._known(row)

    def _ask_beside(self, row: ListedRow) -> None:
        """A list of one line a diagnosis names a person twice who was referred once."""
        first = self.same_day.get((_key(row)[0], row.referred_on))
        if first is None or first.line == row.line:
            return
        words = (
            f"The same person as in line {first.line}, referred on the same day for "
            f"{KIND_WORDS.get(first.main.kind, 'something unclear')}. Is this another referral? "
            "Where it is the same one, leave this row out and add its condition to the other."
        )
        self.reader.ask(row, "beside", words, [("another", "yes, another referral")])

    # --- what was there before -------------------------------------------------------------

    def _nearby(self, row: ListedRow, person: Patient) -> Event | None:
        """A referral that waits for the same kind of event on another day close by."""
        main = row.main
        if main.happened_on is None:
            return None
        for before in self.earlier.of(person):
            if before.kind != main.kind or not before.happened_on or not before.is_waiting:
                continue
            if before.referral is None or (_key(row)[0], *_of(before)) in self.events:
                continue  # this very list names both
            if abs((before.happened_on - main.happened_on).days) > NEARBY_DAYS:
                continue
            words = (
                f"{person} waits already for the same condition of {in_words(before.happened_on)}; "
                f"this row says {in_words(main.happened_on)}. One event or two?"
            )
            said = self.reader.ask(
                row, "event", words, [(SAME, "the same event"), (ANOTHER, "another event")]
            )
            return before if said == SAME else None
        return None

    def _against(self, row: ListedRow, before: Event) -> JudgedRow:
        """A referral on record: what the row would change is asked, and never done unasked."""
        change = change_of(row, before)
        if change is None or not change.words:
            return self._known(row)
        said = self.reader.ask(
            row,
            "changes",
            f"Already referred. This list says otherwise: {'; '.join(change.words)}.",
            [(CHANGE, "change the record"), (KEEP, "leave the record as it is")],
        )
        if row.problems:
            return JudgedRow(row, BAD)
        if not said:
            return JudgedRow(row, ASKED, change=change)
        if said == KEEP:
            return self._known(row)
        self._remember(row)
        return JudgedRow(row, CHANGED, change=change)

    def _known(self, row: ListedRow) -> JudgedRow:
        self._remember(row)
        return JudgedRow(row, SAME_AS_BEFORE)

    def _remember(self, row: ListedRow) -> None:
        if row.record_number:
            self.numbers.setdefault(row.record_number, row.born_on)
        self.events.setdefault(_key(row), row)
        self.same_day.setdefault((_key(row)[0], row.referred_on), row)


def _key(row: ListedRow) -> Any:
    person = row.family_name.casefold(), row.given_name.casefold(), row.born_on
    return (person, row.main.kind, row.main.happened_on)


def _keep_what_differs(row: ListedRow, person: Patient) -> None:
    """Somebody on record is never changed by a list; what it says otherwise stays in the note."""
    for name in ("record_number", "phone", "sex"):
        new = getattr(row, name)
        if person.pk is not None and new and new != getattr(person, name):
            row.remarks.append(f"{name.replace('_', ' ')} as received: {new}")


def _of(event: Event) -> tuple[str, date | None]:
    return event.kind, event.happened_on


def _check(new: NewReferral) -> None:
    """What no cell alone tells: a field that refuses the row."""
    for part in (new.patient, new.condition, new.referral, *new.others):
        if part.pk is None:
            try:
                check(part)
            except ValidationError as error:
                new.problems += error.messages


def _patient(site: Site, row: ListedRow) -> Patient:
    assert row.born_on is not None
    return Patient(
        site=site,
        record_number=row.record_number,
        given_name=row.given_name,
        family_name=row.family_name,
        born_on=row.born_on,
        sex=row.sex,
        phone=row.phone,
    )


def _condition(named: Any) -> Condition:
    return Condition(
        kind=named.kind,
        happened_on=named.happened_on,
        icd10=named.icd10,
        wording=named.wording[:200],
    )


def _referral(row: ListedRow) -> Referral:
    assert row.referred_on is not None
    return Referral(
        referred_on=row.referred_on,
        admitted_on=row.admitted_on,
        discharged_on=row.discharged_on,
        referrer=row.referrer[:120],
        lvef_percent=row.lvef_percent,
        lvef_reported=row.lvef_reported[:40],
        nyha_class=row.nyha_class,
        reported_weight_kg=row.reported_weight_kg,
        reported_height_cm=row.reported_height_cm,
        note="\n".join([row.note, *row.remarks]).strip(),
    )


def counts_of(rows: Iterable[JudgedRow]) -> Mapping[str, int]:
    """How many rows meet each fate."""
    return Counter(row.fate for row in rows)
