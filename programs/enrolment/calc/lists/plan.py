"""How a whole file is read, and what it leaves open: each thing is asked once.

Which shares of a file count as proof is a project choice.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from programs.enrolment.calc.lists.asking import Asker, Question, day_of
from programs.enrolment.calc.lists.cells import is_unknown, read_sex
from programs.enrolment.calc.lists.columns import NOTHING, Columns
from programs.enrolment.calc.lists.fields import DAYS, plain, unit_in
from programs.enrolment.calc.lists.grid import Table
from programs.enrolment.calc.lists.names import needs_order
from programs.enrolment.calc.lists.orders import ask_order, ask_serials, ask_swapped

ROWS = "rows"
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
GIVEN_FIRST, FAMILY_FIRST, TWO_LAST = "given-first", "family-first", "two-last"


@dataclass
class Plan:
    """Everything that holds for a whole file."""

    columns: Columns
    order: str = ""
    order_of: dict[int, str] = field(default_factory=dict)  # column -> its own order
    serials: str = ""
    turned: list[int] = field(default_factory=list)  # columns with day and month exchanged
    sexes: dict[str, str] = field(default_factory=dict)  # code in small letters -> sex
    is_fraction: bool = False
    weight_unit: str = ""
    height_unit: str = ""
    names: str = ""
    referred_on: date | None = None
    open: list[Question] = field(default_factory=list)
    asked: dict[str, Question] = field(default_factory=dict)  # answered or not, by key

    def column(self, name: str) -> list[int]:
        """The columns of a field.

        Parameters
        ----------
        name : of ``FIELDS``.

        Returns
        -------
        Columns, counted from 0, empty for none.
        """
        return self.columns.of.get(name, [])


def make_plan(table: Table, answers: Mapping[str, str]) -> Plan:
    """Understand a file as a whole.

    Parameters
    ----------
    table : the file.
    answers : by key, those accepted and others; of columns "column.3" with a field or "none".

    Returns
    -------
    The plan, with the questions of the whole file that have no accepted answer.
    """
    asker = Asker(answers)
    plan = Plan(Columns(table, answers))
    _ask_columns(plan, table, asker)
    day_columns = _day_columns(plan)
    plan.serials = ask_serials(table, day_columns, asker)
    plan.turned = ask_swapped(table, day_columns, asker)
    plan.order, plan.order_of = ask_order(table, day_columns, asker)
    _ask_sex(plan, table, asker)
    _ask_measures(plan, table, asker)
    _ask_names(plan, table, asker)
    plan.open, plan.asked = asker.open, asker.asked
    return plan


# --- columns -------------------------------------------------------------------------------


def _choices(table: Table, columns: Iterable[int]) -> tuple[tuple[str, str], ...]:
    return tuple((f"column {n + 1}", table.name(n)) for n in columns)


def _ask_columns(plan: Plan, table: Table, asker: Asker) -> None:
    columns = plan.columns
    for name, rivals in columns.rivals.items():
        words = f"Several columns are called {table.headers[rivals[0]]}. Which is meant?"
        answer = asker.ask(Question(f"which.{name}", name, words, _choices(table, rivals)))
        if answer:
            columns.put(name, _number_in(answer))
    if not ({"family_name", "given_name"} <= columns.of.keys() or "full_name" in columns.of):
        _ask_column(plan, table, asker, "full_name", "the name of the person", columns.texts_left())
    if "born_on" not in columns.of:
        left = columns.days_left()
        _ask_column(plan, table, asker, "born_on", "the date of birth", left)
    _ask_referral(plan, table, asker)
    _ask_event(plan, table, asker)


def _ask_column(
    plan: Plan, table: Table, asker: Asker, name: str, words: str, among: list[int]
) -> None:
    among = among or [n for n in range(len(table.headers)) if table.column(n)][:60]
    answer = asker.ask(Question(name, name, f"Which column holds {words}?", _choices(table, among)))
    if answer:
        plan.columns.put(name, _number_in(answer))


def _number_in(answer: str) -> int:
    return int(answer.split()[-1]) - 1


def _ask_referral(plan: Plan, table: Table, asker: Asker) -> None:
    columns = plan.columns
    if "referred_on" in columns.of:
        return
    among = columns.days_left() + columns.events
    for name in ("event_on", "discharged_on", "admitted_on"):
        among += columns.of.get(name, [])
    answer = asker.ask(
        Question(
            "referred_on",
            "referred_on",
            "No column is known to hold the referral date. When were these people referred? One "
            "day for all, another column, or ask for each row.",
            (*_choices(table, sorted(among)), (ROWS, "ask for each row")),
            takes_day=True,
        )
    )
    if answer.startswith("column"):
        columns.put("referred_on", _number_in(answer))
    plan.referred_on = day_of(answer)


def _ask_event(plan: Plan, table: Table, asker: Asker) -> None:
    columns = plan.columns
    if "event_on" in columns.of:
        return
    nameless = columns.days_left(nameless=True)
    is_referral_open = any(q.key == "referred_on" for q in asker.open)
    left = len(nameless) - is_referral_open
    if not columns.events and left < 1:
        return
    answer = asker.ask(
        Question(
            "event_on",
            "event_on",
            "Which of these columns holds the day of the event?",
            (*_choices(table, [*columns.events, *nameless]), (NOTHING, "none of them")),
        )
    )
    if answer and answer != NOTHING:
        columns.put("event_on", _number_in(answer))


def _day_columns(plan: Plan) -> list[int]:
    columns = plan.columns
    found = {n for name in DAYS for n in columns.of.get(name, [])}
    found |= {*columns.events, *columns.of_kind.values(), *columns.days_left(nameless=True)}
    return sorted(found)


# --- codes and measures --------------------------------------------------------------------


def _ask_sex(plan: Plan, table: Table, asker: Asker) -> None:
    for n in plan.column("sex"):
        lines: dict[str, list[int]] = {}
        for line in table.lines:
            if line.cells[n]:
                lines.setdefault(line.cells[n].casefold().rstrip("."), []).append(line.number)
        words = set(lines)
        is_spanish = plain(table.headers[n]) in {"sexo", "genero"}
        other_men = bool(words & {"h", "v", "hombre", "varon", "varón", "masculino"})
        # Varón and hembra, or hombre beside vacant: where both letters stand, H is asked about.
        is_hembra = "h" in words and bool(words & {"v", "varon", "varón", "macho"})
        for code in sorted(words):
            if read_sex(code) != "open" and not (code == "h" and is_hembra):
                continue
            if code == "m" and not other_men and ("f" in words or not is_spanish):
                plan.sexes[code] = "male"
            else:
                plan.sexes[code] = asker.ask(_sex_question(code, lines[code], sorted(words)))


def _sex_question(code: str, lines: list[int], words: list[str]) -> Question:
    shown = ", ".join(words[:8])
    return Question(
        f"sex.{code}",
        "sex",
        f"Sex is written as {shown}. What does {code.upper()} stand for?",
        (("female", "female"), ("male", "male"), (NOTHING, "not recorded")),
        examples=(_rows(len(lines)), *(f"line {n}" for n in lines[:3])),
    )


def _rows(n: int) -> str:
    return "1 row" if n == 1 else f"{n} rows"


def _bare_numbers(plan: Plan, table: Table, name: str, fits: Callable[[float], bool]) -> list[str]:
    """Cells of one column that are a number without a unit."""
    found = []
    for n in plan.column(name):
        for line in table.lines:
            cell = line.cells[n]
            if _NUMBER.fullmatch(cell) and fits(float(cell.replace(",", "."))):
                found.append(f"line {line.number}: {cell}")
    return found


def _ask_measures(plan: Plan, table: Table, asker: Asker) -> None:
    fractions = _bare_numbers(plan, table, "lvef", lambda number: 0 < number < 1)
    if fractions:
        words = f"An ejection fraction is written as {fractions[0].rpartition(' ')[2]}."
        choices = (("percent", "a fraction: 0.35 is 35 %"), ("text", "no, keep the words only"))
        question = Question(
            "lvef_fraction", "lvef_fraction", words, choices, examples=tuple(fractions[:3])
        )
        plan.is_fraction = asker.ask(question) == "percent"
    plan.weight_unit = _unit(plan, table, "weight")
    bare = _bare_numbers(plan, table, "weight", lambda number: True)
    if bare and plan.weight_unit not in {"kg", "lb"}:
        choices = (("kg", "kilograms"), ("lb", "pounds"))
        question = Question(
            "weight_unit", "weight_unit", "In which unit is the weight?", choices,
            examples=tuple(bare[:3]),
        )  # fmt: skip
        plan.weight_unit = asker.ask(question)
    plan.height_unit = _unit(plan, table, "height")
    if len(plan.column("height")) > 1:
        return  # feet and inches, each with its column
    bare = _bare_numbers(plan, table, "height", lambda number: 3 <= number < 100)
    if bare and plan.height_unit not in {"in", "cm"}:
        lengths = (
            ("in", "inches"),
            ("ft.in", "feet and inches: 5.4 is 5 feet 4 inches"),
            ("ft", "feet: 5.5 is five and a half feet"),
        )
        question = Question(
            "height_unit", "height_unit", "In which unit is the height?", lengths,
            examples=tuple(bare[:3]),
        )  # fmt: skip
        plan.height_unit = asker.ask(question)


def _unit(plan: Plan, table: Table, name: str) -> str:
    return next((unit_in(table.headers[n]) for n in plan.column(name)), "")


def _ask_names(plan: Plan, table: Table, asker: Asker) -> None:
    for n in plan.column("full_name"):
        cells = [
            f"line {line.number}: {line.cells[n]}"
            for line in table.lines
            if not is_unknown(line.cells[n]) and needs_order(line.cells[n])
        ]
        if cells:
            plan.names = asker.ask(
                Question(
                    "names",
                    "names",
                    "Names stand in one column. Which part is the family name?",
                    (
                        (GIVEN_FIRST, "the last word: Kim Arden is family Arden"),
                        (TWO_LAST, "the last two words: Ana Ruiz Ortega is family Ruiz Ortega"),
                        (FAMILY_FIRST, "the first word: Arden Kim is family Arden"),
                    ),
                    examples=tuple(cells[:4]),
                )
            )
