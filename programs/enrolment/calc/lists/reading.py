"""A whole list: its plan, and every row as it would be stored."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from programs.enrolment.calc.lists.conditions import clock_note, read_conditions
from programs.enrolment.calc.lists.delimited import Line
from programs.enrolment.calc.lists.grid import Table
from programs.enrolment.calc.lists.plan import Plan, make_plan
from programs.enrolment.calc.lists.row_measures import read_measures
from programs.enrolment.calc.lists.rows import ListedRow, Reader


@dataclass
class Reading:
    """What a file says, as far as it is answered."""

    table: Table
    reader: Reader
    rows: list[ListedRow] = field(default_factory=list)

    @property
    def plan(self) -> Plan:
        """How the whole file is read."""
        return self.reader.plan


def read_list(
    table: Table, answers: Mapping[str, str], today: date, only: Sequence[int] | None = None
) -> Reading:
    """Read a file with the answers given so far (common practice, no source).

    Parameters
    ----------
    table : the file.
    answers : by key, of the whole file and of rows.
    today : the site's day.
    only : places of the rows to read, counted from 0; None for every row.

    Returns
    -------
    The plan with the open questions of the file, and the rows, each with its own.
    """
    plan = make_plan(table, answers)
    reader = Reader(table, plan, answers, today)
    lines = table.lines if only is None else [table.lines[n] for n in only]
    return Reading(table, reader, [read_row(reader, line) for line in lines])


def read_row(reader: Reader, line: Line) -> ListedRow:
    """Read one row; every fault is collected, none stops the reading (project choice).

    Parameters
    ----------
    reader : of the file.
    line : of its table.

    Returns
    -------
    What could be read, with the problems, questions and remarks.
    """
    row = ListedRow(line.number, line.cells)
    reader.ask_faults(row, line)
    reader.read_person(row)
    reader.read_days(row)
    read_conditions(reader, row)
    read_measures(reader, row)
    reader.check_days(row)
    if not row.sex:
        row.remarks.append("sex not given: sex-specific reference values will be missing")
    if note := clock_note(row):
        row.remarks.append(note)
    if row.discharged_on and row.discharged_on > reader.today:
        row.remarks.append(f"discharge is planned for {row.discharged_on:%-d %b %Y}")
    return row
