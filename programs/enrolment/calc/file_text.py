"""From the bytes a hospital sends to a table of cells.

Largest size, most rows and the encodings tried are a project choice.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

MAX_BYTES = 5 * 1024 * 1024
MAX_ROWS = 5000
MAX_COLUMNS = 200


class UnreadableFile(ValueError):
    """The file as a whole cannot be taken; the message says why and what is accepted."""


@dataclass(frozen=True)
class Table:
    headers: list[str]
    rows: list[list[str]]  # trailing blank rows removed; cells stripped
    first_line: int = 2  # line of the first row in the file, as a spreadsheet numbers it


def refuse_size(size: int) -> None:
    """Refuse a file over the limit before anything of it is read.

    Parameters
    ----------
    size : size of the file. [bytes], at most 5 242 880 (5 MB)

    Raises
    ------
    UnreadableFile : the file is larger.
    """
    if size > MAX_BYTES:
        raise UnreadableFile(
            f"This file is {size / 1024 / 1024:.1f} MB; a referral list is at most "
            f"{MAX_BYTES // 1024 // 1024} MB. Nothing was read. Is it the right file?"
        )


def decode(data: bytes) -> str:
    """Text from UTF-8 (with or without byte-order mark), UTF-16 with mark, or Latin-1 kin.

    Parameters
    ----------
    data : the whole file. [bytes], at most 5 242 880 of them

    Returns
    -------
    The text without byte-order mark.

    Raises
    ------
    UnreadableFile : too large, not text, or UTF-16 that breaks off inside a letter.
    """
    refuse_size(len(data))
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError as error:
            raise UnreadableFile("The file breaks off inside a letter; send it anew.") from error
    if b"\x00" in data or data[:4] in (b"PK\x03\x04", b"%PDF") or data[:4] == b"\xd0\xcf\x11\xe0":
        raise UnreadableFile("This is not a text file. Save the list as CSV and send that.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252")  # what "Latin-1" from a spreadsheet really is
    except UnicodeDecodeError:
        return data.decode("latin-1")


def read_table(data: bytes) -> Table:
    """Headers and rows of a CSV file; separator found by looking.

    Parameters
    ----------
    data : the whole file. [bytes], at most 5 242 880 of them, at most 5000 rows

    Returns
    -------
    Stripped cells; each row at least as wide as the headers, blank rows at the end removed.

    Raises
    ------
    UnreadableFile : too large, not text, empty, no columns named, no row, too many rows or
        columns, or a table that cannot be parsed.
    """
    text = decode(data).replace("\r\n", "\n").replace("\r", "\n")
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise UnreadableFile("The file is empty.")
    separator = max(";,\t|", key=lines[0].count)
    if not lines[0].count(separator):
        raise UnreadableFile(
            "The first line should name the columns, separated by commas, semicolons or tabs."
        )
    try:
        read = list(_rows(text, separator))
    except csv.Error as error:
        raise UnreadableFile(f"The file is not a table this program can read: {error}.") from error
    cells = [[cell.strip().strip("\ufeff\u00a0").strip() for cell in row] for row in read]
    start = next(i for i, row in enumerate(cells) if any(row))
    headers, body = cells[start], cells[start + 1 :]
    while body and not any(body[-1]):
        body.pop()
    if not body:
        raise UnreadableFile("The file names columns but holds no rows.")
    if len(body) > MAX_ROWS:
        raise UnreadableFile(f"The file has {len(body)} rows; at most {MAX_ROWS} at once.")
    width = len(headers)
    rows = [(row + [""] * width)[: max(width, len(row))] for row in body]
    return Table(headers, rows, start + 2)


def _rows(text: str, separator: str) -> Iterator[list[str]]:
    """Rows one by one, so that a file far too wide or long is refused at its first such row."""
    for number, row in enumerate(csv.reader(io.StringIO(text), delimiter=separator)):
        if len(row) > MAX_COLUMNS:
            raise UnreadableFile(
                f"Row {number + 1} has {len(row)} columns; a referral list has at most "
                f"{MAX_COLUMNS}. Is it the right file?"
            )
        yield row
