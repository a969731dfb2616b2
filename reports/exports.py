"""What leaves the house: the program's figures with their definitions, and people without names.

Exports lose small cells whoever asks. Both kinds come from one list of rows, as text for a
spreadsheet; a cell that looks like a formula is defused.
"""

import csv
import hmac
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from hashlib import sha256
from random import SystemRandom
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from patients.calc.days import in_words
from programs.enrolment.lists.services import defused
from reports.asking import Question
from reports.calc.completion import DEFINITIONS
from reports.calc.quality import MEASURES
from reports.calc.small_cells import LEAST, told
from reports.figures import DIMENSIONS, group_name, referred
from reports.program import Shown, page_of

Cell = str | int | float | date | None
OLDEST = 89  # ages above are pooled: 45 CFR 164.514(b)(2)(i)(C)
SHIFT_DAYS = 182  # at most, either way (project choice)


@dataclass(frozen=True)
class Sheet:
    """One sheet of an export."""

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


# --- figures ------------------------------------------------------------------------------------

FIGURE_HEADS = (
    "figure", "key", "group", "numerator", "denominator", "percent", "low", "high", "note",
)  # fmt: skip


def figures_of(question: Question) -> list[Sheet]:
    """The figures of the page, what they mean, and what was asked: one sheet each."""
    page = page_of(question, sees_names=False)
    referred_in_all = page["rows"][0].stage.reached
    rows: list[tuple[Cell, ...]] = []
    for row in page["rows"]:
        key, n = str(int(row.stage.step)), row.stage.reached
        if 0 < n < LEAST:
            rows.append(("step", key, row.name, None, None, None, None, None, FEW))
            continue
        rows.append(("step", key, row.name, n, referred_in_all, row.share, None, None, ""))
    spread = page["spread"]
    if spread is not None:
        for name, days in [("lower quartile", spread.lower), ("median", spread.median),
                           ("upper quartile", spread.upper)]:  # fmt: skip
            note = "days from referral to first session"
            rows.append(("wait", name, "", None, spread.n, days, None, None, note))
    level = page["week_12"]
    if level is not None:
        low, high = (None if v is None else 100 * v for v in (level.low, level.high))
        rows.append(
            ("retention", "week-12", "", None, page["n_stays"], 100 * level.share, low, high, "")
        )
    rows.append(_line("in-time", "21-days", "", page["early"]))
    rows += [_line("finished", by.key, "", share) for by, share in page["every"]]
    rows += [
        _line("measure", row.rate.measure.key, "", row.shown)
        if row.shown
        else ("measure", row.rate.measure.key, "", None, None, None, None, None,
              f"not computable here, because {row.rate.measure.because}")
        for row in page["rates"]
    ]  # fmt: skip
    name = DIMENSIONS[question.dimension][0]
    for row in page["groups"]:
        for key in ("got_in", "in_time", "finished"):
            rows.append(_line(f"by {name.lower()}", key, row.group.name, getattr(row, key)))
    return [
        Sheet("Figures", FIGURE_HEADS, tuple(rows)),
        Sheet("Definitions", DEFINITION_HEADS, tuple(definitions())),
        Sheet("Question", ("what", "value"), tuple(_asked(question))),
    ]


FEW = f"fewer than {LEAST} people, or it would give such a cell away: not told"


def _line(figure: str, key: str, group: str, shown: Shown) -> tuple[Cell, ...]:
    if not shown.is_told:
        return (figure, key, group, None, None, None, None, None, FEW)
    share = shown.share
    low, high = share.percent_interval or (None, None)
    return (figure, key, group, share.numerator, share.denominator, share.percent, low, high, "")


DEFINITION_HEADS = (
    "key", "name", "denominator", "numerator", "window", "left out", "source",
    "not computable because",
)  # fmt: skip


def definitions() -> Iterable[tuple[Cell, ...]]:
    """What each measure and each definition of finished counts, and its source."""
    for m in MEASURES:
        yield (
            m.key, m.name, m.population, m.numerator, m.window, m.exclusions, m.source, m.because
        )  # fmt: skip
    for by in DEFINITIONS:
        yield (
            by.key, by.name, "one session or more, and the course has ended", by.name, "", "",
            by.source, "",
        )  # fmt: skip


def _asked(question: Question) -> Iterable[tuple[Cell, ...]]:
    asked = question.asked
    yield ("referred from", in_words(asked.since))
    yield ("to", in_words(asked.until))
    yield ("counted on", in_words(asked.today))
    yield ("sites", ", ".join(sorted(asked.sites.values())))
    yield ("narrowed to", ", ".join(question.form.narrowed) or "nobody left out")
    yield ("finished means", question.by.name)
    yield ("small cells", f"cells of 1 to {LEAST - 1} people are left out with their partner")


# --- people without names -----------------------------------------------------------------------

PEOPLE_HEADS = (
    "row", "site", "sex", "age", "condition", "source", "event on", "referred on",
    "first session on", "left on", "step", "is over", "reason", "planned", "sessions",
    "sessions in 36 weeks", "exit assessed",
)  # fmt: skip
_COLUMNS = (
    "patient", "site", "sex", "age", "condition", "source", "event_on", "referred_on", "first_on",
    "left_on", "step", "is_over", "reason", "planned", "sessions", "sessions_in_36_weeks",
    "has_exit",
)  # fmt: skip


def people_of(question: Question) -> list[Sheet]:
    """One row a referral, without names: dates moved by a number of days of each person's own.

    Raises
    ------
    ValidationError : fewer than eleven people; among so few everybody is known.
    """
    found = list(referred(question.asked).values(*_COLUMNS))
    if len({row["patient"] for row in found}) < LEAST:
        raise ValidationError(f"Fewer than {LEAST} people: rows of so few are not given out.")
    SystemRandom().shuffle(found)  # the order would tell when somebody was referred
    for name in ("site", "sex", "condition", "source", "reason"):
        _pool(found, name)
    rows = [_without_name(question, n, row) for n, row in enumerate(found, start=1)]
    notes = (
        (
            "dates",
            f"moved by up to {SHIFT_DAYS} days, of one person all alike: distances hold",
        ),
        ("age", f"on the day of the event; above {OLDEST} pooled as {OLDEST + 1}+"),
        ("groups", f"of fewer than {LEAST} rows are pooled as “other”"),
        ("row", "numbers mean nothing and differ between exports"),
    )
    return [
        Sheet("People", PEOPLE_HEADS, tuple(rows)),
        Sheet("Definitions", ("what", "how"), notes),
        Sheet("Question", ("what", "value"), tuple(_asked(question))),
    ]


def _pool(rows: list[dict[str, Any]], name: str) -> None:
    """Values that few rows have become one, with a partner where they are few together."""
    counts = Counter(row[name] for row in rows)
    may = dict(zip(counts, told(list(counts.values())), strict=True))
    for row in rows:
        if not may[row[name]]:
            row[name] = "other"


def _without_name(question: Question, n: int, row: dict[str, Any]) -> tuple[Cell, ...]:
    shift = timedelta(days=shift_of(row["patient"]))
    cells: list[Cell] = [n]
    for name in _COLUMNS[1:]:
        value = row[name]
        if isinstance(value, date):
            value += shift
        elif name == "age":
            value = f"{OLDEST + 1}+" if value > OLDEST else value
        elif name in {"site", "condition", "source", "sex"} and value != "other":
            value = group_name(question.asked, name, value)
        elif isinstance(value, bool):
            value = "yes" if value else "no"
        cells.append(value)
    return tuple(cells)


def shift_of(patient: int) -> int:
    """By how many days somebody's dates are moved: never none, and the same in every export.

    A new number each time could be averaged away by asking again.
    """
    key = f"{settings.SECRET_KEY}:dates of people without names".encode()
    drawn = int.from_bytes(hmac.new(key, str(patient).encode(), sha256).digest()[:8])
    days = drawn % (2 * SHIFT_DAYS) - SHIFT_DAYS
    return days if days < 0 else days + 1


# --- files --------------------------------------------------------------------------------------


def as_csv(sheets: Sequence[Sheet]) -> bytes:
    """The sheets one under the other, each with its name; a byte-order mark for spreadsheets."""
    out = io.StringIO()
    writer = csv.writer(out)
    for place, sheet in enumerate(sheets):
        if place:
            writer.writerow([])
        writer.writerow([sheet.name])
        writer.writerow(sheet.heads)
        for row in sheet.rows:
            writer.writerow([_text(cell) for cell in row])
    return ("\ufeff" + out.getvalue()).encode()


def _text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, float):
        return f"{cell:.2f}"
    return defused(cell) if isinstance(cell, str) else str(cell)


def as_workbook(sheets: Sequence[Sheet]) -> bytes:
    """The sheets as a workbook; words stay words, whatever they begin with."""
    book = Workbook(write_only=True)
    for sheet in sheets:
        page = book.create_sheet(sheet.name)
        page.append(list(sheet.heads))
        for row in sheet.rows:
            page.append([_cell(page, cell) for cell in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _cell(page: Any, value: Cell) -> Any:
    if not isinstance(value, str):
        return value
    cell = WriteOnlyCell(page, value=defused(value))
    cell.data_type = "s"
    return cell
