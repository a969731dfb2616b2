"""Lines of cells from text: separator, quotes, lines that hold a line break.

How separators and broken quotes are told is a project choice; the form itself is RFC 4180.
"""

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass

from programs.enrolment.calc.lists.letters import Letters, UnreadableFile

MAX_ROWS = 5000
MAX_COLUMNS = 400
MAX_CELL = 10_000  # letters
MAX_RECORD_LINES = 30  # a quoted cell over more lines is an open quote
MAX_OPEN_QUOTES = 200
MAX_LINES = 200_000  # blank ones and those inside of cells included
SEPARATORS = ",;\t|"
QUOTE, LETTERS, LONG = "quote", "letters", "long"


@dataclass(frozen=True)
class Line:
    """Cells of one row of the file, with the line a text editor or spreadsheet shows."""

    number: int
    cells: list[str]
    faults: tuple[str, ...] = ()  # QUOTE, LETTERS, LONG
    refused: tuple[str, ...] = ()  # why it can be no referral
    asks: tuple[tuple[str, str, str], ...] = ()  # subject, question, what "yes" means
    remarks: tuple[str, ...] = ()


def read_lines(letters: Letters) -> list[Line]:
    """The rows of a delimited text, blank ones left out.

    Parameters
    ----------
    letters : the decoded file.

    Returns
    -------
    Rows of stripped cells. A quote that is opened and not closed is a fault of its own line and is
    read as a letter.

    Raises
    ------
    UnreadableFile : no line, no separator, too many rows or columns, or a giant cell.
    """
    text = letters.text.replace("\r\n", "\n").replace("\r", "\n")
    if text.count("\n") > MAX_LINES:
        raise UnreadableFile(f"The file has more than {MAX_LINES} lines. Is it the right file?")
    lines = text.split("\n")
    separator, first = _named(lines)
    lines[:first] = [""] * first
    if not any(line.strip() for line in lines):
        raise UnreadableFile("The file is empty.")
    separator = separator or _separator(lines)
    found: list[Line] = []
    n_open = 0
    for line in _records(lines, separator):
        n_open += QUOTE in line.faults
        if n_open > MAX_OPEN_QUOTES:
            raise UnreadableFile(
                f"More than {MAX_OPEN_QUOTES} lines open a quote and never close it, at last "
                f"line {line.number}. Is it the right file?"
            )
        if any(line.cells):
            found.append(_marked(line, letters.odd_lines))
            _refuse_giants(found)
    return found


def _named(lines: list[str]) -> tuple[str, int]:
    """The separator a first line such as "sep=;" names, and how many lines that takes."""
    match = re.fullmatch(r'"?sep=(.)"?[;,\t|]*', lines[0].strip("\ufeff\n "))
    return (match[1], 1) if match else ("", 0)


def _separator(lines: list[str]) -> str:
    """What parts most lines into the same number of cells, more than one."""
    some = [line[:20_000] for line in lines if line.strip()][:60]
    best, most = "", 0.0
    for separator in SEPARATORS:
        widths = [len(cells) for cells in csv.reader(some, delimiter=separator)]
        usual = max(set(widths), key=lambda w: (widths.count(w) if w > 1 else 0, w))
        fit = widths.count(usual) / len(widths) * min(usual, 4) if usual > 1 else 0.0
        if fit > most:
            best, most = separator, fit
    if not best:
        raise UnreadableFile(
            "No columns were found: a list has its cells parted by commas, semicolons, tabs or |, "
            "or is an Excel workbook (xlsx)."
        )
    return best


def _records(lines: list[str], separator: str) -> Iterator[Line]:
    place = 0
    while place < len(lines):
        cells, used, faults = _record(lines, place, separator)
        yield Line(place + 1, [_clean(cell) for cell in cells], faults)
        place += used


def _record(lines: list[str], place: int, separator: str) -> tuple[list[str], int, tuple[str, ...]]:
    """The cells of the record that begins at a line, how many lines it takes, its faults."""
    line = lines[place]
    if line.count(separator) > 20 * MAX_COLUMNS or len(line) > 20 * MAX_CELL:
        raise UnreadableFile(f"Line {place + 1} is far too long. Is it the right file?")
    if '"' not in line:
        return line.split(separator), 1, ()
    cells = _parsed(line, separator)
    if cells is not None:
        return cells, 1, ()
    together = line
    for more in range(1, min(MAX_RECORD_LINES, len(lines) - place)):
        together += "\n" + lines[place + more]
        cells = _parsed(together, separator, strict=True)
        if cells == []:
            break
        if cells is not None:
            return cells, more + 1, ()
    return [cell.strip('"') for cell in line.split(separator)], 1, (QUOTE,)


def _parsed(text: str, separator: str, *, strict: bool = False) -> list[str] | None:
    """Cells of one record; None while a quote is open, [] where strictness refuses it."""
    try:
        return next(csv.reader([text], delimiter=separator, strict=True))
    except csv.Error as error:
        if "unexpected end" in str(error):
            return None
        return [] if strict else next(csv.reader([text], delimiter=separator))


def _clean(cell: str) -> str:
    return cell.strip().strip("\ufeff\u00a0\u200b").strip()


def _marked(line: Line, odd: frozenset[int]) -> Line:
    return Line(line.number, line.cells, (*line.faults, LETTERS)) if line.number in odd else line


def _refuse_giants(found: list[Line]) -> None:
    last = found[-1]
    if len(last.cells) > MAX_COLUMNS and any(last.cells[MAX_COLUMNS:]):
        raise UnreadableFile(
            f"Line {last.number} has {len(last.cells)} columns; a referral list has at most "
            f"{MAX_COLUMNS}. Is it the right file?"
        )
    del last.cells[MAX_COLUMNS:]
    if any(len(cell) > MAX_CELL for cell in last.cells):
        raise UnreadableFile(
            f"Line {last.number} has a cell of more than {MAX_CELL} letters. Is it the right file?"
        )
    if len(found) > MAX_ROWS + 200:
        raise UnreadableFile(f"The file has more than {MAX_ROWS} rows, the most at once.")
