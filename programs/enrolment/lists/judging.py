"""Every row of a hospital's list and what would become of it. Nothing here is stored."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError

from patients.history import check
from patients.models import Condition, Patient
from programs.enrolment.calc import columns
from programs.enrolment.calc.file_text import Table, read_table
from programs.enrolment.calc.referral_cells import unit_in
from programs.enrolment.calc.referral_row import ReferralRow, read_row
from programs.enrolment.models import Referral, ReferralList
from programs.enrolment.referrals.earlier import Earlier, Event
from programs.enrolment.referrals.identity import People
from programs.staff.models import Site

BATCH = 100  # rows looked up together, and stored together: well under a second's work


@dataclass
class ReadRow:
    """A row as it came, and what it says."""

    row: ReferralRow
    cells: list[str]

    @property
    def person(self) -> tuple[str, str, Any]:
        return self.row.family_name.casefold(), self.row.given_name.casefold(), self.row.born_on


@dataclass
class NewReferral:
    """What a new row adds, not stored yet; the person may be on record."""

    patient: Patient
    condition: Condition
    referral: Referral
    problems: list[str]  # the row's own


@dataclass
class PreviewRow(ReadRow):
    """A row with its fate: "new", "known" (adds nothing) or "bad"."""

    fate: str
    new: NewReferral | None = None

    @property
    def kind_words(self) -> str:
        return str(Condition.Kind(self.row.kind).label)


@dataclass
class Preview:
    table: Table
    mapping: dict[str, int]
    date_order: str
    missing: list[str]
    rows: list[PreviewRow] = field(default_factory=list)

    def count(self, fate: str) -> int:
        return sum(row.fate == fate for row in self.rows)


def preview(listed: ReferralList) -> Preview:
    """Every row and what would become of it."""
    table = read_table(bytes(listed.data))
    mapping = {k: int(v) for k, v in listed.mapping.items()}
    result = Preview(table, mapping, listed.date_order, columns.missing(mapping))
    if not result.missing:
        judge = Judge(listed.site)
        for batch in in_batches(read_rows(listed, table)):
            result.rows += judge.judge(batch)
    return result


def read_rows(listed: ReferralList, table: Table) -> list[ReadRow]:
    """The rows that hold anything, read with the columns chosen."""
    mapping = {k: int(v) for k, v in listed.mapping.items()}
    today = listed.site.today()
    units = {f: unit_in(table.headers[i]) for f, i in mapping.items()}
    found = []
    for offset, cells in enumerate(table.rows):
        if not any(cells):
            continue
        named = {f: cells[i] for f, i in mapping.items() if i < len(cells)}
        row = read_row(table.first_line + offset, named, listed.date_order, today, units)
        if len(cells) > len(table.headers):
            row.problems.append("more cells than columns; is a separator inside a name?")
        found.append(ReadRow(row, cells))
    return found


def in_batches(rows: Sequence[ReadRow]) -> Iterator[Sequence[ReadRow]]:
    for start in range(0, len(rows), BATCH):
        yield rows[start : start + BATCH]


class Judge:
    """Judges rows in the order of the file; who is on record is looked up a batch at a time."""

    def __init__(self, site: Site, went_in: Iterable[ReadRow] = ()) -> None:
        """``went_in`` are rows of the same file that were not refused before."""
        self.site = site
        self.people, self.earlier = People(site), Earlier()
        self.numbers: dict[str, Any] = {}  # number -> birth date, of this file
        self.events: set[Any] = set()
        for read in went_in:
            self._remember(read)

    def judge(self, batch: Collection[ReadRow]) -> list[PreviewRow]:
        good = {id(read): _patient(self.site, read.row) for read in batch if read.row.is_good}
        self.earlier.look_up(self.people.look_up(good.values()))
        return [self._judge(read, good.get(id(read))) for read in batch]

    def _judge(self, read: ReadRow, newcomer: Patient | None) -> PreviewRow:
        row = read.row
        bad = PreviewRow(row, read.cells, "bad")
        if newcomer is None:
            return bad
        if self.numbers.get(row.record_number, row.born_on) != row.born_on:
            row.problems.append(
                f"record number {row.record_number} is in this file twice, for two people"
            )
            return bad
        known = self.people.match(newcomer)
        if known.conflict:
            row.problems.append(known.conflict)
            return bad
        assert row.referred_on is not None
        person = known.patient or newcomer
        event = Event(row.kind, row.event_on, row.referred_on)
        twice = (read.person, row.kind, row.event_on) in self.events
        if twice or self.earlier.same(person, event):
            row.remarks += ["duplicate row"] if twice else []
            self._remember(read)
            return PreviewRow(row, read.cells, "known")
        new = NewReferral(person, _condition(row), _referral(row), row.problems)
        _check(new)
        if new.problems:
            return bad
        self._remember(read)
        self.people.add(person)
        self.earlier.note(person, event)
        return PreviewRow(row, read.cells, "new", new)

    def _remember(self, read: ReadRow) -> None:
        if read.row.record_number:
            self.numbers.setdefault(read.row.record_number, read.row.born_on)
        self.events.add((read.person, read.row.kind, read.row.event_on))


def _check(new: NewReferral) -> None:
    """What no cell alone tells: a field that refuses the row."""
    for part in (new.patient, new.condition, new.referral):
        if part.pk is None:
            try:
                check(part)
            except ValidationError as error:
                new.problems += error.messages


def _patient(site: Site, row: ReferralRow) -> Patient:
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


def _condition(row: ReferralRow) -> Condition:
    return Condition(
        kind=row.kind, happened_on=row.event_on, icd10=row.icd10, wording=row.wording[:200]
    )


def _referral(row: ReferralRow) -> Referral:
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
