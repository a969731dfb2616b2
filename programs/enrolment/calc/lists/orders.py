"""In which order a file writes day and month, and what its bare numbers are.

Which shares of a file count as proof is a project choice.
"""

import re
from collections.abc import Sequence

from programs.enrolment.calc.lists.asking import Asker, Question
from programs.enrolment.calc.lists.cells import DAY_FIRST, MONTH_FIRST, SERIAL, day_shape, iso_parts
from programs.enrolment.calc.lists.fields import plain
from programs.enrolment.calc.lists.grid import Table

_STATED = {DAY_FIRST: r"\bdd?[/ -]mm?[/ -]y", MONTH_FIRST: r"\bmm?[/ -]dd?[/ -]y"}
_ORDERS = (
    (DAY_FIRST, "day first: 03/04 is 3 April"),
    (MONTH_FIRST, "month first: 03/04 is March 4"),
)


def ask_serials(table: Table, columns: Sequence[int], asker: Asker) -> str:
    """What bare numbers in columns of days are.

    Parameters
    ----------
    table : the file.
    columns : of days, counted from 0.
    asker : asks, where there are any.

    Returns
    -------
    "1900" or "1904", the year a spreadsheet counts them from; "" for none, and while it is open.
    """
    found = [
        f"line {line.number}: {line.cells[n]}"
        for n in columns
        for line in table.lines
        if SERIAL.fullmatch(line.cells[n])
    ]
    if not found:
        return ""
    first = found[0].rpartition(" ")[2]
    choices = (
        ("1900", "yes, counted from 1900, the usual way"),
        ("1904", "yes, counted from 1904"),
        ("no", "no, they are no days"),
    )
    words = f"Days are written as bare numbers such as {first}. Are they days of a spreadsheet?"
    said = asker.ask(Question("serials", "serials", words, choices, examples=tuple(found[:3])))
    return "" if said == "no" else said


def ask_order(table: Table, columns: Sequence[int], asker: Asker) -> tuple[str, dict[int, str]]:
    """The order of day and month: proved by numbers over 12, or asked.

    Parameters
    ----------
    table : the file.
    columns : of days, counted from 0.
    asker : asks where nothing proves it, where very little does, or where proofs differ.

    Returns
    -------
    ``DAY_FIRST``, ``MONTH_FIRST`` or "" for the file; and columns with an order of their own.
    """
    examples: list[str] = []
    tallies = {n: _tally(table, n, examples) for n in columns}
    n_day, n_month, n_both = (sum(t[k] for t in tallies.values()) for k in range(3))
    most, least = max(n_day, n_month), min(n_day, n_month)
    if not most and (named := _named(table, columns)):
        return named, {}
    winner = DAY_FIRST if n_day >= n_month else MONTH_FIRST
    if most and not least and n_both <= 10 * most:
        return winner, {}
    if least and (own := _own_orders(tallies)):
        return "", own
    if least and most >= 5 and least <= 0.1 * most:
        return winner, {}
    if not (n_both or least):
        return "", {}
    how_many = "Nearly every one" if most else "Every one"
    why = "The file has both." if least else f"{how_many} fits both orders."
    words = f"In which order are days written? {why}"
    question = Question("dates", "dates", words, _ORDERS, examples=tuple(examples[:4]))
    return asker.ask(question), {}


FEWEST_SPLIT = 3  # days of either kind that show how a spreadsheet parted them


def ask_swapped(table: Table, columns: Sequence[int], asker: Asker) -> list[int]:
    """Columns in which a spreadsheet turned days round that it could, and left the others as text.

    A list opened under the other order of day and month comes so: every day up to the twelfth has
    become a true date, every later one is still text. Both kinds in one column, parted exactly
    there, are asked about.

    Parameters
    ----------
    table : the file.
    columns : of days, counted from 0.
    asker : asks, where there are any.

    Returns
    -------
    Columns whose true dates are to be turned round; empty for none, and while it is open.
    """
    found, examples = [], []
    for n in columns:
        cells = [(line.number, line.cells[n]) for line in table.lines if line.cells[n]]
        true = [(k, cell, of) for k, cell in cells if (of := iso_parts(cell))]
        texts = [of for _, cell in cells if (of := day_shape(cell))]
        if len(true) < FEWEST_SPLIT or len(texts) < FEWEST_SPLIT:
            continue
        if all(day <= 12 for _, _, (_, day) in true) and all(max(of) > 12 for of in texts):
            found.append(n)
            examples += [f"line {k}: {cell}" for k, cell, _ in true[:2]]
    if not found:
        return []
    choices = (
        ("turned", "yes, day and month of these are the other way round"),
        ("right", "no, they are right as they stand"),
    )
    words = (
        "Days up to the 12th stand as dates, all later ones as text, as when a spreadsheet opened "
        "the list in the wrong order. Has it turned them round?"
    )
    said = asker.ask(Question("turned", "turned", words, choices, examples=tuple(examples[:4])))
    return found if said == "turned" else []


def _named(table: Table, columns: Sequence[int]) -> str:
    """The order that the names of columns state, such as "DOB (MM/DD/YYYY)"."""
    names = [plain(table.headers[n]) for n in columns]
    stated = {
        order
        for order, pattern in _STATED.items()
        if any(re.search(pattern, name) for name in names)
    }
    return stated.pop() if len(stated) == 1 else ""


def _tally(table: Table, n: int, examples: list[str]) -> tuple[int, int, int]:
    """Proofs of day first, proofs of month first, days that fit both; examples of these."""
    tally = [0, 0, 0]
    for line in table.lines:
        shape = day_shape(line.cells[n])
        if shape is None or shape[0] == shape[1]:
            continue
        place = 0 if shape[0] > 12 else 1 if shape[1] > 12 else 2
        tally[place] += 1
        if place == 2:
            examples.append(f"line {line.number}: {line.cells[n]}")
    return tally[0], tally[1], tally[2]


def _own_orders(tallies: dict[int, tuple[int, int, int]]) -> dict[int, str]:
    """Each column its own order, where every one proves its own several times."""
    proved = {n: t for n, t in tallies.items() if t[0] or t[1]}
    is_sure = all(0 in t[:2] and max(t[:2]) >= 3 for t in proved.values())
    is_silent = any(t[2] for n, t in tallies.items() if n not in proved)
    if not is_sure or is_silent:
        return {}
    return {n: DAY_FIRST if t[0] else MONTH_FIRST for n, t in proved.items()}
