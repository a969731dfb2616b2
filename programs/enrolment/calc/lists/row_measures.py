"""Ejection fraction, class, weight and height of one row.

What contradicts what, and what is asked, is a project choice. That heart failure with reduced
ejection fraction means 40 % or less and with preserved 50 % or more: universal definition of heart
failure, 2021 (from memory).
"""

import re

from patients.calc.limits import OutOfRange
from programs.enrolment.calc.lists.asking import LEAVE_OUT
from programs.enrolment.calc.lists.fields import FIELDS
from programs.enrolment.calc.lists.measures import read_height, read_lvef_words, read_weight
from programs.enrolment.calc.lists.rows import EMPTY, ListedRow, Reader
from programs.enrolment.calc.referral_cells import read_lvef, read_nyha

_REDUCED = re.compile(r"hfref|reduced|impaired|poor|severe|reducida|deprimida|low ef")
_KEPT = re.compile(r"hfpef|preserved|normal|conservada|preservada")
_LVEF_IN_WORDS = re.compile(r"\b(?:lvef|ef|fevi)\D{0,6}(\d{2})(?:\s?%|\b)", re.IGNORECASE)


def read_measures(reader: Reader, row: ListedRow) -> None:
    """Read ejection fraction, class, weight and height into a row.

    Parameters
    ----------
    reader : of the file.
    row : with the conditions already read.
    """
    _read_lvef(reader, row)
    for cell in reader.cells(row, "nyha"):
        try:
            row.nyha_class = read_nyha(cell)
        except ValueError:
            choices = [(f"{n}", ["I", "II", "III", "IV"][n - 1]) for n in range(1, 5)]
            said = _ask_cell(reader, row, "nyha", cell, choices)
            row.nyha_class = int(said) if said.isdigit() else None
    _read_sizes(reader, row)


def _ask_cell(
    reader: Reader, row: ListedRow, name: str, cell: str, choices: list[tuple[str, str]]
) -> str:
    """Ask about a cell that is no value; it stays in the note as it came."""
    label = FIELDS[name][0]
    said = reader.ask(
        row,
        name,
        f"{label}: {cell[:60]} cannot be read.",
        [*choices, (EMPTY, "not known; keep what was sent in the note")],
        of=cell,
    )
    if said and said != LEAVE_OUT:
        reader.keep_as_text(row, name, cell)
    return said


def _read_lvef(reader: Reader, row: ListedRow) -> None:
    plan = reader.plan
    is_open = any(q.key == "lvef_fraction" for q in plan.open)
    for cell in reader.cells(row, "lvef"):
        words = read_lvef_words(cell)
        if words.fraction is not None:
            if plan.is_fraction:
                row.lvef_percent = round(words.fraction * 100, 6)
            elif not is_open:
                row.lvef_reported = cell[:40]
        elif words.percent is not None:
            try:
                row.lvef_percent = read_lvef(f"{words.percent}")
            except (OutOfRange, ValueError):
                _ask_cell(reader, row, "lvef", cell, [])
        elif words.is_report:
            row.lvef_reported = cell[:40]
        else:
            said = _ask_cell(reader, row, "lvef", cell, [])
            row.lvef_reported = cell[:40] if said == EMPTY else ""
        _ask_contradiction(reader, row, cell)


def _ask_contradiction(reader: Reader, row: ListedRow, cell: str) -> None:
    """A number beside words that say another thing."""
    number, wording = row.lvef_percent, row.main.wording.lower() if row.conditions else ""
    if number is None:
        return
    of_cell = cell.lower()
    in_heart_failure = " ".join(w for w in re.findall(r"hf[rp]ef", wording))
    says = f"{of_cell} {in_heart_failure}"
    other = _LVEF_IN_WORDS.search(wording)
    differs = other is not None and abs(float(other[1]) - number) > 0.5
    if not (
        differs or (number >= 50 and _REDUCED.search(says)) or (number <= 40 and _KEPT.search(says))
    ):
        return
    text = f"{cell}, {wording}" if wording else cell
    said = reader.ask(
        row,
        "lvef_words",
        f"LVEF {number:g} % stands beside other words: {text[:100]}. Is the number right?",
        [("number", f"yes, {number:g} %"), ("text", "not sure; keep the words only")],
    )
    if said == "text":
        row.lvef_percent, row.lvef_reported = None, cell[:40]
        reader.keep_as_text(row, "lvef", text)


def _read_sizes(reader: Reader, row: ListedRow) -> None:
    plan = reader.plan
    for cell in reader.cells(row, "weight"):
        waits = any(q.key == "weight_unit" for q in plan.open)
        try:
            row.reported_weight_kg = read_weight(cell, plan.weight_unit)
        except (OutOfRange, ValueError):
            if not (waits and re.fullmatch(r"[\d.,]+", cell)):
                _ask_cell(reader, row, "weight", cell, [])
    cells = reader.cells(row, "height")
    if not cells:
        return
    if len(plan.column("height")) > 1:
        if len(cells) == 1:  # feet without inches are not known to be whole feet
            _ask_cell(reader, row, "height", cells[0], [])
            return
        cells = [f"{cells[0]} ft {cells[1]} in"]
    waits = any(q.key == "height_unit" for q in plan.open)
    try:
        row.reported_height_cm = read_height(cells[0], plan.height_unit)
    except (OutOfRange, ValueError):
        if not (waits and re.fullmatch(r"[\d.,]+", cells[0])):
            _ask_cell(reader, row, "height", cells[0], [])
