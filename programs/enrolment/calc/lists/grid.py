"""From lines of cells to a table: which line names the columns, and which are no person.

How titles, headers and footers are told is a project choice.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from programs.enrolment.calc.lists.cells import looks_like_day
from programs.enrolment.calc.lists.delimited import LONG, MAX_COLUMNS, MAX_ROWS, Line
from programs.enrolment.calc.lists.fields import OURS, plain, pointed
from programs.enrolment.calc.lists.letters import UnreadableFile

FEW_LONG = 0.2  # so many lines may be longer than the header by a separator inside a cell
LOOK = 30  # lines from the top among which the header is looked for
# What stands below the names of columns in some exports.
_UNITS = {
    "", "kg", "lb", "lbs", "cm", "in", "ft", "mm/dd/yyyy", "dd/mm/yyyy", "yyyy-mm-dd", "m/f",
}  # fmt: skip
_FOOT = re.compile(
    r"\b(total|totals|count|records?|registros|pages?|pagina|confidential|confidencial|printed"
    r"|impreso|end of|fin de|report|signed|firmado|generated|sum|subtotal)\b"
)


@dataclass(frozen=True)
class Table:
    """Named columns and the lines of people; every line has a cell for each column."""

    headers: list[str]
    lines: list[Line]
    asides: list[str] = field(default_factory=list)  # lines that hold no person, in words
    has_header: bool = True
    # Columns of each condition that came by itself: words, code, day.
    conditions: tuple[tuple[int, int, int], ...] = ()

    def column(self, index: int) -> list[str]:
        """The cells of a column that hold anything.

        Parameters
        ----------
        index : of the column, counted from 0.

        Returns
        -------
        Texts in the order of lines.
        """
        return [line.cells[index] for line in self.lines if line.cells[index]]

    def name(self, index: int) -> str:
        """A column as questions call it, with a sample, so that two of one name differ.

        Parameters
        ----------
        index : of the column, counted from 0.

        Returns
        -------
        Number, name and up to two cells.
        """
        name = self.headers[index] or "no name"
        samples = list(dict.fromkeys(self.column(index)))[:2]
        shown = ", ".join(sample[:24] for sample in samples) or "empty"
        return f"column {index + 1}, {name}: {shown}"


def table_of(lines: Sequence[Line]) -> Table:
    """Find the header, leave titles, repeated headers and footers aside.

    Parameters
    ----------
    lines : every line that holds anything.

    Returns
    -------
    The table; a file without a header keeps its first line as a person, its columns unnamed.

    Raises
    ------
    UnreadableFile : no line of a person, or too many.
    """
    width = min(MAX_COLUMNS, max((_width(line) for line in lines), default=0))
    if width < 2:
        raise UnreadableFile("The file has one column only; a referral list has several.")
    start, n_header = _header(lines, width)
    headers = _joined(lines[start : start + n_header], width)
    asides = [_aside(line, "above the columns") for line in lines[:start]]
    people = []
    is_foot = False
    for line in lines[start + n_header :]:
        cells = (line.cells + [""] * width)[: max(width, len(line.cells))]
        is_same = [plain(c) for c in cells[:width]] == [plain(h) for h in headers]
        if n_header and (is_same or _names_columns(cells)):
            asides.append(_aside(line, "the columns named again"))
        elif _is_no_person(cells, width, is_foot):
            asides.append(_aside(line, "no person"))
            is_foot = True
        else:
            is_foot = False
            people.append(Line(line.number, cells[:width], line.faults))
    people = _marked_long(people, headers) if n_header else people
    if not people:
        raise UnreadableFile("The file names columns but holds no rows.")
    if len(people) > MAX_ROWS:
        raise UnreadableFile(f"The file has {len(people)} rows; at most {MAX_ROWS} at once.")
    return Table(headers, people, asides, bool(n_header))


def _marked_long(people: list[Line], headers: Sequence[str]) -> list[Line]:
    """A few lines with cells beyond the last name: what stands before them may have moved."""
    named = max((n for n, name in enumerate(headers, 1) if name), default=0)
    long = {line.number for line in people if _width(line) > named}
    if not long or len(long) > max(1, FEW_LONG * len(people)):
        return people
    return [
        Line(line.number, line.cells, (*line.faults, LONG)) if line.number in long else line
        for line in people
    ]


def _width(line: Line) -> int:
    """Columns up to the last that holds anything."""
    return max((n for n, cell in enumerate(line.cells, 1) if cell), default=0)


def _known(names: Sequence[str]) -> int:
    return sum(bool(pointed(plain(name))) for name in names if len(name) <= 60)


def _is_data(cells: Sequence[str]) -> bool:
    """A day, or two numbers, are of a person and never name columns."""
    numbers = sum(bool(re.fullmatch(r"[\d.,%+()\- ]+", c)) for c in cells if c)
    return any(looks_like_day(c) for c in cells) or numbers >= 2


def _header(lines: Sequence[Line], width: int) -> tuple[int, int]:
    """Where the header begins and how many lines it takes; 0 lines for none."""
    best, place = 0, -1
    for n, line in enumerate(lines[:LOOK]):
        if _is_data(line.cells) or sum(bool(c) for c in line.cells) < 2:
            continue
        known = _known(line.cells)
        if known > best:
            best, place = known, n
    if best < 2:
        return _uncertain(lines, width)
    start, n_header = place, 1
    while start > 0 and _adds(lines[start - 1], lines[start : start + n_header], width):
        start, n_header = start - 1, n_header + 1
    while start + n_header < min(len(lines), LOOK) and _adds_below(
        lines[start + n_header], lines[start : start + n_header], width
    ):
        n_header += 1
    return start, n_header


def _uncertain(lines: Sequence[Line], width: int) -> tuple[int, int]:
    """No line names columns this program knows: full lines of words only above data are names."""
    for n, line in enumerate(lines[:LOOK]):
        full = sum(bool(c) for c in line.cells)
        if full < max(2, width * 0.6):
            continue
        below = lines[n + 1 : n + 4]
        words_only = not any(re.search(r"\d", c) for c in line.cells)
        is_header = words_only and any(_is_data(b.cells) for b in below)
        return (n, 1) if is_header and not _is_data(line.cells) else (n, 0)
    return 0, 0


def _adds(above: Line, header: Sequence[Line], width: int) -> bool:
    """Whether the line above belongs to the header: joined, more columns are known by name."""
    if _is_data(above.cells) or sum(bool(c) for c in above.cells) < 2:
        return False
    joined = _joined([above, *header], width)
    return _strength(joined) > _strength(_joined(header, width))


def _adds_below(below: Line, header: Sequence[Line], width: int) -> bool:
    """The same of the line below, which is a person as soon as it holds a day or a number."""
    if _is_data(below.cells) or any(re.search(r"\d", c) for c in below.cells):
        return False
    if all(plain(c) in _UNITS for c in below.cells if c):
        return True
    if _known(below.cells) < sum(bool(c) for c in below.cells) / 2:
        return False
    joined = _joined([*header, below], width)
    return _strength(joined) >= _strength(_joined(header, width))


def _strength(names: Sequence[str]) -> int:
    return sum(max(pointed(plain(n)).values())[0] for n in names if pointed(plain(n)))


def _joined(header: Sequence[Line], width: int) -> list[str]:
    names = []
    for n in range(width):
        parts = [line.cells[n] for line in header if n < len(line.cells) and line.cells[n]]
        names.append(" ".join(parts)[:120])
    return names


def _is_no_person(cells: Sequence[str], width: int, after_another: bool) -> bool:
    """A line of few cells with words of a footer, or of one cell in a wide table."""
    filled = [c for c in cells if c]
    if len(filled) > max(1, min(3, width // 3)) or any(looks_like_day(c) for c in filled):
        return False
    is_foot = any(_FOOT.search(plain(c)) for c in filled)
    return is_foot or (len(filled) == 1 and width >= 4 and (bool(cells[0]) or after_another))


def _names_columns(cells: Sequence[str]) -> bool:
    """Every cell is the very name of a column."""
    if any(letter.isdigit() for cell in cells for letter in cell):
        return False  # a person nearly always has a day or a number
    filled = [plain(c) for c in cells if c]
    return len(filled) >= 3 and all(
        max((sure for sure, _ in pointed(name).values()), default=0) == 3 for name in filled
    )


def _aside(line: Line, why: str) -> str:
    words = " ".join(cell for cell in line.cells if cell)[:80]
    return f"line {line.number}, {why}: {words}"


def is_ours(name: str) -> bool:
    """Whether a column is one this program puts before the rows it refuses.

    Parameters
    ----------
    name : as the file writes it.

    Returns
    -------
    True for "line" and "reasons".
    """
    return plain(name) in OURS
