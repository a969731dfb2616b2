"""Taking in a hospital's list: questions first, then good rows in and bad rows back."""

import csv
import hashlib
import io
import json
import time
import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence

from django.core.exceptions import ValidationError
from django.db import connection, transaction

from patients import audit
from patients.claims import claim, note_made
from patients.models import AuditEvent
from programs.enrolment.calc.lists.asking import Question
from programs.enrolment.calc.lists.cells import FORMULA_START
from programs.enrolment.calc.lists.fields import FIELDS
from programs.enrolment.calc.lists.grid import Table
from programs.enrolment.calc.lists.letters import UnreadableFile
from programs.enrolment.calc.lists.reading import Reading, read_list
from programs.enrolment.lists import layouts
from programs.enrolment.lists.judging import ASKED, BAD, BATCH, CHANGED, NEW, Judge, JudgedRow
from programs.enrolment.lists.layouts import is_of_rows as is_of_rows
from programs.enrolment.lists.previewing import preview as preview
from programs.enrolment.lists.source import read_source
from programs.enrolment.lists.storing import correct, store
from programs.enrolment.models import ListLayout, ReferralList
from programs.enrolment.models import referral_list as fates
from programs.staff.models import Site, User


def receive(
    site: Site, name: str, data: bytes, *, key: uuid.UUID | None = None, by: User
) -> ReferralList:
    """Keep a file for preview; nothing of it becomes a referral yet.

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
    """A list with the answers of its layout, if there is one; not stored.

    Raises
    ------
    UnreadableFile : it is no table of referrals.
    """
    table = read_source(data, {}).table
    listed = ReferralList(site=site, by=by, name=name[:200], data=data)
    if table is not None and (layout := layouts.matching(site, table)) is not None:
        listed.layout, listed.answers = layout, dict(layout.answers)
    return listed


# --- answers -------------------------------------------------------------------------------


@transaction.atomic
def answer(
    listed: ReferralList,
    given: Mapping[str, str],
    *,
    again: Iterable[str] = (),
    seen: str,
    key: uuid.UUID | None = None,
    by: User,
) -> None:
    """Keep answers; those of rows are forgotten where an answer of the whole file changes.

    ``again`` are keys whose answers are taken back, so that they are asked once more. ``seen``
    is the ``edition`` of the answers that the form was made from.

    Raises
    ------
    AlreadyTaken : the same form was sent before.
    ValidationError : somebody answered meanwhile, or rows are in and the answer is one of the
        whole file.
    """
    claim(key, by=by)
    stored = ReferralList.objects.select_for_update().defer("data").get(pk=listed.pk)
    if edition(stored) != seen:
        raise ValidationError("Somebody answered meanwhile; look at the list again.")
    taken_back = set(again)
    answers = {k: v for k, v in (stored.answers | dict(given)).items() if k not in taken_back}
    of_file = {k for k in {*answers, *stored.answers} if not is_of_rows(k)}
    if any(answers.get(k) != stored.answers.get(k) for k in of_file):
        if stored.n_taken:
            raise ValidationError("Rows of this list are in already; how it is read stays.")
        answers = {k: v for k, v in answers.items() if not is_of_rows(k)}
    listed.answers = answers
    listed.save(update_fields=["answers"])


def edition(listed: ReferralList) -> str:
    """What tells one state of a list's answers, and of its rows, from another."""
    state = json.dumps([sorted(listed.answers.items()), listed.n_taken])
    return hashlib.sha256(state.encode()).hexdigest()[:16]


def refuse_answers(asked: Mapping[str, Question], given: Mapping[str, str]) -> None:
    """Raise ValidationError for an answer that nothing asks for, or that is not accepted."""
    for key, value in given.items():
        if key.startswith("column."):
            if value not in (*FIELDS, "none"):
                raise ValidationError(f"{key}: accepted are {', '.join(FIELDS)} and none.")
            continue
        question = asked.get(key)
        if question is None:
            raise ValidationError(f"Nothing asks for {key!r}.")
        if not question.accepts(value):
            raise ValidationError(f"{key}={value}: accepted are {question.accepted}.")


@transaction.atomic
def keep_layout(
    listed: ReferralList, table: Table, name: str, *, key: uuid.UUID | None = None, by: User
) -> ListLayout:
    """Keep what was answered for a file, for the next one of its sender (``layouts.keep``).

    Raises
    ------
    AlreadyTaken : the same form was sent before.
    ValidationError : nothing can be kept.
    """
    claim(key, by=by)
    return layouts.keep(listed, table, name, by=by)


@transaction.atomic
def change_layout(
    layout: ListLayout,
    name: str,
    forget: list[str],
    is_active: bool,
    *,
    seen: int,
    key: uuid.UUID | None = None,
    by: User,
) -> None:
    """Rename a layout, forget answers of it, take it out of use (``layouts.change``).

    Raises
    ------
    AlreadyTaken : the same form was sent before.
    ValidationError : the name is taken, or somebody else saved it meanwhile.
    """
    claim(key, by=by)
    layouts.change(layout, name, forget, is_active, seen=seen, by=by)


# --- taking in -----------------------------------------------------------------------------


def take_in(
    listed: ReferralList,
    *,
    by: User,
    seconds: float | None = None,
    tell: Callable[[int, int], None] | None = None,
) -> ReferralList:
    """Store the rows without an open question, keep the bad ones for download; the rest wait.

    A batch is one transaction: whoever else writes waits for one batch and no longer, and what
    breaks leaves the batches before it in. The list knows what became of each row; called again,
    also by somebody else at the same moment, it goes on from there and adds nothing twice.

    Parameters
    ----------
    seconds : stop after the batch that goes past these; None for no end before the last row. [s]
    tell : hears after each batch how many rows were looked at, and of how many.

    Raises
    ------
    ValidationError : something of the whole file is open, or somebody changed an answer meanwhile.
    """
    if listed.state == ReferralList.State.DONE:
        return listed
    started = time.monotonic()
    reading = _read(listed)
    place = 0
    while True:
        listed, place = _take_batch(listed, reading, place, by=by)
        if tell is not None:
            tell(min(place, len(reading.rows)), len(reading.rows))
        if listed.state == ReferralList.State.DONE or place >= len(reading.rows):
            return listed
        if seconds is not None and time.monotonic() - started >= seconds:
            return listed
        _let_others_in()


def _read(listed: ReferralList) -> Reading:
    """The whole file; raises ValidationError while something of it is open."""
    source = read_source(bytes(listed.data), listed.answers)
    open_ = source.open
    if source.table is not None:
        reading = read_list(source.table, listed.answers, listed.site.today())
        open_ = open_ + reading.plan.open
        if not open_:
            return reading
    raise ValidationError(f"Please answer first: {' '.join(q.words for q in open_)}")


@transaction.atomic
def _take_batch(
    read: ReferralList, reading: Reading, place: int, *, by: User
) -> tuple[ReferralList, int]:
    """Judge the next rows by what is on record at this moment, and store the good ones."""
    # One list of a site at a time; NO KEY, so that people of the site are registered meanwhile.
    site = Site.objects.select_for_update(no_key=True).get(pk=read.site_id)
    listed = ReferralList.objects.select_for_update().defer("data").get(pk=read.pk)
    if listed.state == ReferralList.State.DONE:
        return listed, place
    if listed.answers != read.answers:
        raise ValidationError("An answer was changed meanwhile; look at the preview again.")
    rows = reading.rows
    marks = [listed.fate(n) for n in range(len(rows))]
    batch = [n for n in range(place, len(rows)) if marks[n] == fates.WAITING][:BATCH]
    went_in = [row for mark, row in zip(marks, rows, strict=True) if mark in "akc"]
    judge = Judge(site, reading.reader, went_in)
    judged = judge.judge([rows[n] for n in batch])
    store([j.new for j in judged if j.new], by=by)
    _correct(judged, by=by)
    for n, j in zip(batch, judged, strict=True):
        marks[n] = _settle(listed, j)
    listed.fates = "".join(marks)
    _finish(listed, by=by)
    return listed, batch[-1] + 1 if batch else len(rows)


def _settle(listed: ReferralList, judged: JudgedRow) -> str:
    """Count a row by its fate; its letter."""
    if judged.row.problems or judged.fate == BAD:
        reasons = list(judged.row.problems)
        bad = {"line": judged.row.line, "cells": judged.row.cells, "reasons": reasons}
        listed.rejected.append(bad)
        return fates.REFUSED
    if judged.fate == ASKED:
        return fates.WAITING
    if judged.fate == NEW:
        listed.n_added += 1
        return fates.ADDED
    if judged.fate == CHANGED:
        listed.n_changed += 1
        return fates.CHANGED
    listed.n_known += 1
    return fates.KNOWN


def _correct(judged: Sequence[JudgedRow], *, by: User) -> None:
    for j in judged:
        if j.fate == CHANGED and j.change is not None:
            try:
                with transaction.atomic():
                    correct([j.change], by=by)
            except ValidationError as error:
                j.row.problems += error.messages


def _finish(listed: ReferralList, *, by: User) -> None:
    if fates.WAITING not in listed.fates:
        listed.state = ReferralList.State.DONE
        words = f"{listed.name}: {listed.n_added} referrals added"
        if listed.n_changed:
            words += f", {listed.n_changed} changed"
        audit.record(AuditEvent.Kind.IMPORT, words[:200], by=by)
    counts = ["n_added", "n_known", "n_changed", "rejected", "fates", "state"]
    listed.save(update_fields=counts)


def _let_others_in() -> None:
    """On SQLite whoever waits to write looks again every tenth of a second at the latest."""
    if connection.vendor == "sqlite":
        time.sleep(0.1)


# --- refused rows --------------------------------------------------------------------------


def rejected_csv(listed: ReferralList) -> str:
    """The bad rows as they came, with line and reasons; formula-looking cells are defused."""
    out = io.StringIO()
    writer = csv.writer(out)
    try:
        table = read_source(bytes(listed.data), listed.answers).table
    except UnreadableFile:  # taken in when more kinds of file were read than today
        table = None
    headers = list(table.headers) if table is not None else []
    groups = table.conditions if table is not None else ()
    if groups:  # a bundle: the first day is the event's, the others stand behind their words
        headers[groups[0][2]] = "Event date"
    writer.writerow([defused(h) for h in ["line", "reasons", *headers]])
    for bad in listed.rejected:
        row = list(bad["cells"])
        for words, _, day in groups[1:]:
            row[words], row[day] = f"{row[words]} {row[day]}".strip(), ""
        cells = [str(bad["line"]), "; ".join(bad["reasons"]), *row]
        writer.writerow([defused(cell) for cell in cells])
    return out.getvalue()


def defused(cell: str) -> str:
    """A cell a spreadsheet will not run as a formula."""
    return f"'{cell}" if cell.startswith((*FORMULA_START, "\t", "\r")) else cell
