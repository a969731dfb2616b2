"""A file as it came, whatever its kind, as one table."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from programs.enrolment.calc.lists.asking import Asker, Question
from programs.enrolment.calc.lists.delimited import read_lines
from programs.enrolment.calc.lists.fhir import looks_like_fhir, table_of_bundle
from programs.enrolment.calc.lists.fields import pointed
from programs.enrolment.calc.lists.grid import Table, table_of
from programs.enrolment.calc.lists.letters import UnreadableFile, decode, refuse_size
from programs.enrolment.lists.workbook import is_workbook, read_sheets


@dataclass
class Source:
    """The table of people, or the question which of several it is."""

    table: Table | None
    kind: str  # what was read: an encoding, or a workbook and its sheet
    open: list[Question] = field(default_factory=list)
    asked: dict[str, Question] = field(default_factory=dict)


def read_source(data: bytes, answers: Mapping[str, str]) -> Source:
    """Read a file by its content, never by its name.

    Raises
    ------
    UnreadableFile : it holds no list of people; the message says why.
    """
    refuse_size(len(data))
    if is_workbook(data):
        return _of_workbook(data, answers)
    if looks_like_fhir(data) and not data.startswith(b"{\\rtf"):
        return Source(table_of_bundle(data), "FHIR R4")
    letters = decode(data)
    return Source(table_of(read_lines(letters)), letters.encoding)


def _of_workbook(data: bytes, answers: Mapping[str, str]) -> Source:
    tables: dict[str, Table] = {}
    refusal: UnreadableFile | None = None
    for sheet in read_sheets(data):
        try:
            tables[sheet.name] = table_of(sheet.lines)
        except UnreadableFile as error:
            refusal = error
    people = {name: table for name, table in tables.items() if _is_of_people(table)} or tables
    if not people:
        assert refusal is not None
        raise refusal
    asker = Asker(answers)
    name = next(iter(people)) if len(people) == 1 else asker.ask(_which_sheet(people))
    return Source(people.get(name), f"workbook, sheet {name}", asker.open, asker.asked)


def _is_of_people(table: Table) -> bool:
    return sum(bool(pointed(header)) for header in map(str.lower, table.headers)) >= 3


def _which_sheet(people: Mapping[str, Table]) -> Question:
    choices = [
        (name, f"{name}: {len(table.lines)} rows, the first {_shown(table)}")
        for name, table in people.items()
    ]
    return Question("sheet", "sheet", "Which sheet holds the people?", tuple(choices))


def _shown(table: Table) -> str:
    return ", ".join(cell for cell in table.lines[0].cells[:4] if cell)[:60]
