"""Taking in a hospital's list: preview first, then good rows in and bad rows back."""

import csv
import io
import time
import uuid
from collections.abc import Sequence

from django.core.exceptions import ValidationError
from django.db import connection, transaction

from patients import audit
from patients.claims import claim, note_made
from patients.models import AuditEvent
from programs.enrolment.calc import columns
from programs.enrolment.calc.file_text import read_table
from programs.enrolment.calc.referral_cells import guess_date_order
from programs.enrolment.calc.referral_row import FORMULA_START
from programs.enrolment.lists.judging import BATCH, Judge, ReadRow, read_rows
from programs.enrolment.lists.judging import preview as preview
from programs.enrolment.lists.storing import store
from programs.enrolment.models import ReferralList
from programs.staff.models import Site, User

DATE_FIELDS = ("born_on", "event_on", "admitted_on", "discharged_on", "referred_on")


def receive(
    site: Site, name: str, data: bytes, *, key: uuid.UUID | None = None, by: User
) -> ReferralList:
    """Keep a file for preview with the guessed columns.

    Raises
    ------
    AlreadyTaken : the same form was sent before; it names the list.
    UnreadableFile : it is no table of referrals.
    """
    listed = draft(site, name, data, by=by)  # reads the whole file: before the transaction
    with transaction.atomic():
        claim(key, by=by)
        listed.save()
        note_made(key, listed.pk)
    return listed


def draft(site: Site, name: str, data: bytes, *, by: User) -> ReferralList:
    """A list with the guessed columns, not stored; raises UnreadableFile."""
    table = read_table(data)
    mapping = columns.guess(table.headers)
    order = guess_date_order(
        row[mapping[name]] for row in table.rows for name in DATE_FIELDS if name in mapping
    )
    return ReferralList(
        site=site, by=by, name=name[:200], data=data, mapping=mapping, date_order=order
    )


def take_in(listed: ReferralList, *, by: User, seconds: float | None = None) -> ReferralList:
    """Store the good rows, keep the bad ones for download. A second call adds nothing.

    A batch is one transaction: whoever else writes waits for one batch and no longer, and what
    breaks leaves the batches before it in. The list knows how far it came; called again, also by
    somebody else at the same moment, it goes on from there.

    Parameters
    ----------
    seconds : stop after the batch that goes past these; None for no end before the last row. [s]

    Raises
    ------
    ValidationError : a needed column is not mapped, or somebody changed the columns meanwhile.
    """
    if listed.state == ReferralList.State.DONE:
        return listed
    table, started = read_table(bytes(listed.data)), time.monotonic()
    refuse_unmapped(listed)
    rows = read_rows(listed, table)
    while True:
        now = _take_batch(listed, rows, by=by)
        if now.state == ReferralList.State.DONE:
            return now
        if seconds is not None and time.monotonic() - started >= seconds:
            return now
        _let_others_in()


def refuse_unmapped(listed: ReferralList) -> None:
    """Raise ValidationError, naming them, while needed columns are not mapped."""
    if missing := columns.missing(listed.mapping):
        raise ValidationError(f"Name the column of: {', '.join(missing)}.")


@transaction.atomic
def _take_batch(read: ReferralList, rows: Sequence[ReadRow], *, by: User) -> ReferralList:
    """Judge the next rows by what is on record at this moment, and store the good ones."""
    # One list of a site at a time; NO KEY, so that people of the site are registered meanwhile.
    site = Site.objects.select_for_update(no_key=True).get(pk=read.site_id)
    listed = ReferralList.objects.select_for_update().defer("data").get(pk=read.pk)
    if listed.state == ReferralList.State.DONE:
        return listed
    if (listed.mapping, listed.date_order) != (read.mapping, read.date_order):
        raise ValidationError("The columns were changed meanwhile; look at the preview again.")
    refused = {bad["line"] for bad in listed.rejected}
    taken = listed.n_taken
    judge = Judge(site, (r for r in rows[:taken] if r.row.line not in refused))
    judged = judge.judge(rows[taken : taken + BATCH])
    store([j.new for j in judged if j.new], by=by)
    for j in judged:
        if j.row.problems:
            reasons = list(j.row.problems)
            listed.rejected.append({"line": j.row.line, "cells": j.cells, "reasons": reasons})
        elif j.fate == "new":
            listed.n_added += 1
        else:
            listed.n_known += 1
    if listed.n_taken >= len(rows):
        listed.state = ReferralList.State.DONE
        words = f"{listed.name}: {listed.n_added} referrals added"
        audit.record(AuditEvent.Kind.IMPORT, words, by=by)
    listed.save(update_fields=["n_added", "n_known", "rejected", "state"])
    return listed


def _let_others_in() -> None:
    """On SQLite whoever waits to write looks again every tenth of a second at the latest."""
    if connection.vendor == "sqlite":
        time.sleep(0.1)


def n_rows(listed: ReferralList) -> int:
    """How many rows of the file hold anything."""
    return sum(any(cells) for cells in read_table(bytes(listed.data)).rows)


@transaction.atomic
def change_mapping(listed: ReferralList, mapping: dict[str, int], date_order: str) -> None:
    """Read the file otherwise; raises ValidationError once rows of it are in."""
    stored = ReferralList.objects.select_for_update().defer("data").get(pk=listed.pk)
    if stored.n_taken:
        raise ValidationError("Rows of this list are in already; its columns stay as they are.")
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
