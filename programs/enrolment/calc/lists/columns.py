"""Which column holds what, by its name and by its cells.

The shares of cells that decide are a project choice.
"""

import re
from collections.abc import Callable, Mapping, Sequence

from programs.enrolment.calc.lists.cells import (
    SERIAL,
    codes_in,
    is_unknown,
    looks_like_day,
    read_sex,
    yes_or_no,
)
from programs.enrolment.calc.lists.diagnoses import kinds_in, names_condition
from programs.enrolment.calc.lists.fields import (
    DAYS,
    FIELDS,
    NAMELESS,
    OF_KIND,
    SEVERAL,
    is_other_thing,
    plain,
    pointed,
)
from programs.enrolment.calc.lists.grid import Table, is_ours

SAMPLE = 300  # cells of a column that are looked at
FEWEST = 3  # cells that can deny a name
NOTHING = "none"
_COMMA_NAME = re.compile(r"[^\d,]{2,60},\s*[^\d,]{1,60}")
_PHONE = re.compile(r"\+?[\d\s().-]{7,20}")


class Columns:
    """The columns of each field; what was answered goes before names, names before cells."""

    def __init__(self, table: Table, answers: Mapping[str, str]) -> None:
        self.table = table
        self.of: dict[str, list[int]] = {}
        self.of_kind: dict[str, int] = {}  # condition -> column of its own days
        self.events: list[int] = []  # columns that may hold the day of the event
        self.flags: dict[str, int] = {}  # condition -> column of yes and no
        self.rivals: dict[str, list[int]] = {}  # columns of one name that differ
        self._free = {n for n, name in enumerate(table.headers) if not is_ours(name)}
        self._cells = {n: _known_cells(table, n) for n in self._free}
        self._take_answers(answers)
        self._take_names()
        self._take_cells()
        self._settle_names()
        if len(self.events) == 1 and "event_on" not in self.of:
            self.of["event_on"] = [self.events.pop()]

    def days_left(self, *, nameless: bool = False) -> list[int]:
        """Columns of days that no field has yet.

        Parameters
        ----------
        nameless : only those whose name tells nothing.

        Returns
        -------
        Columns, counted from 0, in the order of the file.
        """
        found = [n for n in sorted(self._free) if _share(self._cells[n], _is_day) >= 0.5]
        return [n for n in found if not nameless or plain(self.table.headers[n]) in NAMELESS]

    def texts_left(self) -> list[int]:
        """Columns of words that no field has yet.

        Returns
        -------
        Columns, counted from 0, in the order of the file.
        """
        return [n for n in sorted(self._free) if _share(self._cells[n], _has_letters) >= 0.5]

    def unread(self) -> list[int]:
        """Columns with cells that nothing is read from.

        Returns
        -------
        Columns, counted from 0, in the order of the file.
        """
        return [n for n in sorted(self._free) if self._cells[n] and n not in self.events]

    def put(self, field: str, column: int) -> None:
        """Read a field from a column; an answer said so.

        Parameters
        ----------
        field : of ``FIELDS``.
        column : counted from 0.
        """
        self.of[field] = [column]
        self._free.discard(column)
        if column in self.events:
            self.events.remove(column)

    def _take(self, field: str, column: int) -> None:
        self.of.setdefault(field, []).append(column)
        self._free.discard(column)

    def _take_answers(self, answers: Mapping[str, str]) -> None:
        for n in sorted(self._free):
            field = answers.get(f"column.{n + 1}", "")
            if field in FIELDS:
                self._take(field, n)
            elif field == NOTHING:
                self._free.discard(n)

    def _take_names(self) -> None:
        answered = set(self.of)
        order = list(FIELDS)
        hits = []
        for n in self._free:
            for field, (sure, place) in pointed(plain(self.table.headers[n])).items():
                hits.append((-sure, order.index(field), -place, n, field))
        for sure, _, _, n, field in sorted(hits):
            if n not in self._free or field in answered or self._contradicts(field, n, -sure):
                continue
            if field == "event_on":
                self._take_event(n)
            elif field not in self.of or (field in SEVERAL and sure <= -2):
                self._take(field, n)
            elif self._is_rival(field, n):
                self.rivals.setdefault(field, [*self.of[field]]).append(n)
        for field in SEVERAL:
            if field in self.of:
                self.of[field].sort()
        self.events.sort()

    def _is_rival(self, field: str, n: int) -> bool:
        """A second column of the very same name with other cells."""
        first = self.of[field][0]
        same_name = _bare(self.table.headers[n]) == _bare(self.table.headers[first])
        return same_name and self._cells[n] != self._cells[first] and bool(self._cells[n])

    def _take_event(self, n: int) -> None:
        name = plain(self.table.headers[n])
        for pattern, kind in OF_KIND:
            if re.search(pattern, name) and kind not in self.of_kind:
                self.of_kind[kind] = n
                self._free.discard(n)
                return
        self.events.append(n)
        self._free.discard(n)

    def _contradicts(self, field: str, n: int, sure: int) -> bool:
        """Whether the cells of a column deny what its name says; one or two deny no sure name."""
        cells = self._cells[n]
        if not cells or (len(cells) < FEWEST and sure == 3):
            return False
        if field in DAYS:
            return _share(cells, _may_be_day) < 0.5
        if _share(cells, _is_day) > 0.5:
            return True
        if field in ("family_name", "given_name", "full_name"):
            return _share(cells, _has_letters) < 0.5
        if field == "icd10":
            return _share(cells, _has_code) < 0.3
        return field == "sex" and _share(cells, _is_sex) < 0.5

    def _take_cells(self) -> None:
        """Columns whose name says nothing this program knows."""
        self._take_flags()
        names = {n: plain(self.table.headers[n]) for n in sorted(self._free)}
        silent = [
            n
            for n, name in names.items()
            if not (pointed(name) or any(is_other_thing(field, name) for field in FIELDS))
        ]
        self._take_birth([n for n in silent if _share(self._cells[n], _is_day) >= 0.8])
        tests: list[tuple[str, Callable[[str], bool], float]] = [
            ("sex", _is_plain_sex, 1.0),
            ("icd10", _has_code, 0.8),
            ("full_name", _is_comma_name, 0.7),
            ("diagnosis", _has_kind, 0.5),
        ]
        if not self.table.has_header:
            tests.append(("phone", _is_phone, 0.9))
        for field, test, share in tests:
            is_named = field == "full_name" and {"family_name", "given_name"} & self.of.keys()
            found = [n for n in silent if n in self._free and _share(self._cells[n], test) >= share]
            if found and field not in self.of and not is_named:
                self._take(field, found[0])

    def _take_flags(self) -> None:
        """Columns named by a condition that hold yes and no."""
        for n in sorted(self._free):
            kinds = kinds_in(self.table.headers[n])
            is_new = len(kinds) == 1 and kinds[0][1] not in self.flags
            if is_new and not names_condition(self.table.headers[n]):
                continue  # "Family history of MI", "HF education": a yes there is no condition
            if is_new and _share(self._cells[n], lambda cell: bool(yes_or_no(cell))) == 1:
                self.flags[kinds[0][1]] = n
                self._free.discard(n)

    def _take_birth(self, days: Sequence[int]) -> None:
        """The one column of days of which nearly every year is that of a grown person's birth."""
        if "born_on" in self.of:
            return
        old = [n for n in days if _share(self._cells[n], _is_long_ago) >= 0.9]
        if len(old) == 1 and len(days) > 1:
            self._take("born_on", old[0])

    def _settle_names(self) -> None:
        family, given = self.of.get("family_name"), self.of.get("given_name")
        if family and given and self.table.conditions:
            return  # a bundle names some people in parts and some as a whole
        if family and given:
            for n in self.of.pop("full_name", []):
                self._free.add(n)
        elif family and "full_name" in self.of:
            self._part_name(family[0], self.of.pop("full_name")[0])
        elif "full_name" not in self.of and (family or given):
            whole = self.of.pop("family_name", None) or self.of.pop("given_name")
            self.of["full_name"] = whole[:1]

    def _part_name(self, family: int, name: int) -> None:
        """Beside a family name, a column called name holds the given one, or the whole name."""
        pairs = [(ln.cells[family], ln.cells[name]) for ln in self.table.lines]
        n_whole = sum(a.casefold() in b.casefold() for a, b in pairs if a and b)
        if n_whole * 2 > len(pairs):
            self.of["full_name"] = [name]
            self._free.add(self.of.pop("family_name")[0])
        else:
            self.of["given_name"] = [name]


def _bare(name: str) -> str:
    return re.sub(r" ?#?\d{1,2}$", "", plain(name))


def _known_cells(table: Table, n: int) -> list[str]:
    found = []
    for line in table.lines:
        cell = line.cells[n]
        if cell and not is_unknown(cell):
            found.append(cell)
            if len(found) == SAMPLE:
                break
    return found


def _share(cells: Sequence[str], test: Callable[[str], bool]) -> float:
    return sum(map(test, cells)) / len(cells) if cells else 0.0


def _is_day(cell: str) -> bool:
    return looks_like_day(cell)


def _may_be_day(cell: str) -> bool:
    return looks_like_day(cell) or bool(SERIAL.fullmatch(cell) or re.fullmatch(r"\d{8}", cell))


def _has_letters(cell: str) -> bool:
    return sum(c.isalpha() for c in cell) >= max(2, len(cell) / 3)


def _has_code(cell: str) -> bool:
    return bool(codes_in(cell)[0])


def _is_sex(cell: str) -> bool:
    return bool(read_sex(cell))


def _is_plain_sex(cell: str) -> bool:
    return read_sex(cell) in {"female", "male"} or cell.casefold() == "m"


def _is_comma_name(cell: str) -> bool:
    return _COMMA_NAME.fullmatch(cell) is not None and not kinds_in(cell)


def _has_kind(cell: str) -> bool:
    return bool(kinds_in(cell))


def _is_phone(cell: str) -> bool:
    return _PHONE.fullmatch(cell) is not None and not looks_like_day(cell)


def _is_long_ago(cell: str) -> bool:
    years = re.findall(r"\b(?:19|20)\d{2}\b", cell)
    return bool(years) and 1900 <= int(years[0]) <= 2008
