"""Taking in a hospital's list: preview first, then good rows in and bad rows back."""

import csv
import io
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from patients import audit
from patients.claims import claim, note_made
from patients.models import AuditEvent, Condition, Patient
from programs.enrolment.calc import columns
from programs.enrolment.calc.file_text import Table, read_table
from programs.enrolment.calc.referral_cells import guess_date_order, unit_in
from programs.enrolment.calc.referral_row import FORMULA_START, ReferralRow, read_row
from programs.enrolment.models import Referral, ReferralList
from programs.enrolment.referrals import services as referrals
from programs.enrolment.referrals.identity import find_patient
from programs.staff.models import Site, User

DATE_FIELDS = ("born_on", "event_on", "admitted_on", "discharged_on", "referred_on")


@dataclass
class PreviewRow:
    """A row with its fate: "new", "known" (adds nothing) or "bad"."""

    row: ReferralRow
    cells: list[str]
    fate: str
    patient: Patient | None = None

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


@transaction.atomic
def receive(
    site: Site, name: str, data: bytes, *, key: uuid.UUID | None = None, by: User
) -> ReferralList:
    """Keep a file for preview with the guessed columns.

    Raises
    ------
    AlreadyTaken : the same form was sent before; it names the list.
    UnreadableFile : it is no table of referrals.
    """
    claim(key, by=by)
    table = read_table(data)
    mapping = columns.guess(table.headers)
    listed = ReferralList.objects.create(
        site=site,
        by=by,
        name=name[:200],
        data=data,
        mapping=mapping,
        date_order=_order_of(table, mapping),
    )
    note_made(key, listed.pk)
    return listed


def _order_of(table: Table, mapping: dict[str, int]) -> str:
    indexes = [mapping[name] for name in DATE_FIELDS if name in mapping]
    return guess_date_order(row[i] for row in table.rows for i in indexes)


def preview(listed: ReferralList) -> Preview:
    """Every row and what would become of it. Stores nothing."""
    table = read_table(bytes(listed.data))
    mapping = {k: int(v) for k, v in listed.mapping.items()}
    result = Preview(table, mapping, listed.date_order, columns.missing(mapping))
    if not result.missing:
        result.rows = list(_judge_rows(listed.site, result))
    return result


def _judge_rows(site: Site, result: Preview) -> Iterator[PreviewRow]:
    seen: dict[Any, Any] = {}
    today = site.today()
    units = {f: unit_in(result.table.headers[i]) for f, i in result.mapping.items()}
    for offset, cells in enumerate(result.table.rows):
        if not any(cells):
            continue
        named = {f: cells[i] for f, i in result.mapping.items() if i < len(cells)}
        row = read_row(result.table.first_line + offset, named, result.date_order, today, units)
        if len(cells) > len(result.table.headers):
            row.problems.append("more cells than columns; is a separator inside a name?")
        yield _judge_row(site, row, cells, seen)


def _judge_row(site: Site, row: ReferralRow, cells: list[str], seen: dict) -> PreviewRow:
    if not row.is_good:
        return PreviewRow(row, cells, "bad")
    newcomer = _patient(site, row)
    known = find_patient(site, newcomer)
    if known.conflict:
        row.problems.append(known.conflict)
        return PreviewRow(row, cells, "bad")
    person = (row.family_name.casefold(), row.given_name.casefold(), row.born_on)
    event = (row.kind, row.event_on)
    earlier = (
        seen.setdefault(("number", row.record_number), person) if row.record_number else person
    )
    if earlier[2] != row.born_on:
        row.problems.append(
            f"record number {row.record_number} stands twice in this file for two people"
        )
        return PreviewRow(row, cells, "bad")
    twice = (person, event) in seen
    seen[(person, event)] = True
    if twice:
        row.remarks.append("stands twice in this file")
    if twice or (
        known.patient is not None
        and row.referred_on is not None
        and referrals.already_referred(known.patient, _condition(row), row.referred_on)
    ):
        return PreviewRow(row, cells, "known", known.patient)
    return PreviewRow(row, cells, "new", known.patient)


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


@transaction.atomic
def take_in(listed: ReferralList, *, by: User) -> ReferralList:
    """Store the good rows, keep the bad ones for download. A second call adds nothing.

    Raises
    ------
    ValidationError : a needed column is not mapped.
    """
    listed = (
        ReferralList.objects.select_for_update(of=("self",))
        .select_related("site")
        .get(pk=listed.pk)
    )
    if listed.state == ReferralList.State.DONE:
        return listed
    result = preview(listed)
    if result.missing:
        raise ValidationError(f"Name the column of: {', '.join(result.missing)}.")
    rejected = []
    for judged in result.rows:
        problems = judged.row.problems
        if judged.fate == "new":
            problems = _store(listed.site, judged.row, by=by)
            listed.n_added += not problems
        elif judged.fate == "known":
            listed.n_known += 1
        if problems:
            rejected.append(
                {"line": judged.row.line, "cells": judged.cells, "reasons": list(problems)}
            )
    listed.rejected, listed.state = rejected, ReferralList.State.DONE
    listed.save()
    audit.record(AuditEvent.Kind.IMPORT, f"{listed.name}: {listed.n_added} referrals added", by=by)
    return listed


def _store(site: Site, row: ReferralRow, *, by: User) -> list[str]:
    """Store one row by itself; what refuses it comes back as words."""
    try:
        with transaction.atomic():
            referrals.refer(
                _patient(site, row), _condition(row), _referral(row), one_or_two=None, by=by
            )
    except ValidationError as error:
        return error.messages
    return []


def change_mapping(listed: ReferralList, mapping: dict[str, int], date_order: str) -> None:
    listed.mapping, listed.date_order = mapping, date_order
    listed.save(update_fields=["mapping", "date_order"])


def rejected_csv(listed: ReferralList) -> str:
    """The bad rows as they came, with line and reasons; formula-looking cells are defused."""
    out = io.StringIO()
    writer = csv.writer(out)
    headers = read_table(bytes(listed.data)).headers
    writer.writerow([defused(h) for h in ["line", "reasons", *headers]])
    for bad in listed.rejected:
        cells = [str(bad["line"]), "; ".join(bad["reasons"]), *bad["cells"]]
        writer.writerow([defused(cell) for cell in cells])
    return out.getvalue()


def defused(cell: str) -> str:
    """A cell a spreadsheet will not run as a formula."""
    return f"'{cell}" if cell.startswith((*FORMULA_START, "\t", "\r")) else cell
