"""One row of a list, read into typed values; what it leaves open is asked, never guessed.

What is asked, and what refuses a row, is a project choice.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from patients.calc.age import EARLIEST_BIRTH, age_on
from patients.calc.days import in_words
from patients.calc.limits import AGE_YEARS
from programs.enrolment.calc.lists.asking import LEAVE_OUT, Asker, Question, day_of
from programs.enrolment.calc.lists.cells import (
    DAY_FIRST,
    DIRECTION,
    FORMULA_START,
    MONTH_FIRST,
    day_shape,
    is_no_name,
    is_unknown,
    read_day,
    read_sex,
    swapped,
)
from programs.enrolment.calc.lists.delimited import LETTERS, LONG, QUOTE, Line
from programs.enrolment.calc.lists.diagnoses import Named
from programs.enrolment.calc.lists.fields import DAYS, FIELDS
from programs.enrolment.calc.lists.grid import Table
from programs.enrolment.calc.lists.names import split_name
from programs.enrolment.calc.lists.plan import Plan

LONGEST = {"given_name": 80, "family_name": 80, "record_number": 40, "phone": 40, "referrer": 120}
FAR_BACK = timedelta(days=50 * 366)  # no stay or referral of a list is older
LIFETIME = timedelta(days=99 * 365)  # no event of a short year is older
FAR_AHEAD = timedelta(days=400)  # no discharge is planned for later
PLACEHOLDERS = {date(1900, 1, 1), date(1901, 1, 1), date(1911, 11, 11), date(1899, 12, 31)}
EMPTY = "empty"
_NAME = re.compile(r"[^\W\d_][^\d<>=@|\\/{}\[\]^~*#$%&+!?;:\"]*")
# "1.23457E+11", "########": what a spreadsheet shows where a number did not fit.
_LOST_NUMBER = re.compile(r"\d(?:[.,]\d+)?E\+?\d{1,3}|#{2,}", re.IGNORECASE)
_GARBLED = re.compile("\ufffd|Ã[\x80-\xbf]|Ã[©±¡³º]|â€")  # UTF-8 read as something else before
_LEAVE_OUT = (LEAVE_OUT, "leave this row out")


@dataclass
class ListedRow:
    """What one row says. ``problems`` refuse it, ``open`` questions hold it, ``remarks`` stay."""

    line: int
    cells: list[str]
    given_name: str = ""
    family_name: str = ""
    born_on: date | None = None
    sex: str = ""
    record_number: str = ""
    phone: str = ""
    conditions: list[Named] = field(default_factory=list)  # the main one first
    admitted_on: date | None = None
    discharged_on: date | None = None
    referred_on: date | None = None
    event_on: date | None = None
    referrer: str = ""
    lvef_percent: float | None = None
    lvef_reported: str = ""
    nyha_class: int | None = None
    reported_weight_kg: float | None = None
    reported_height_cm: float | None = None
    note: str = ""
    problems: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    open: list[Question] = field(default_factory=list)

    @property
    def is_good(self) -> bool:
        """Whether nothing refuses the row; remarks and questions do not."""
        return not self.problems

    @property
    def main(self) -> Named:
        """The condition that the person is referred for."""
        return self.conditions[0]


MONTHS = 12  # a number beyond is a day


class Reader:
    """Reads the rows of one file as its plan says."""

    def __init__(self, table: Table, plan: Plan, answers: Mapping[str, str], today: date) -> None:
        self.table, self.plan, self.answers, self.today = table, plan, answers, today
        self.asked: dict[str, Question] = {}  # of rows, answered or not, by key

    # --- pieces others use -----------------------------------------------------------------

    def cells(self, row: ListedRow, name: str) -> list[str]:
        """The cells of a field that say anything.

        Parameters
        ----------
        row : the row.
        name : the field.

        Returns
        -------
        Texts in the order of columns.
        """
        found = [row.cells[n] for n in self.plan.column(name)]
        return [cell for cell in found if not is_unknown(cell)]

    def ask(
        self,
        row: ListedRow,
        subject: str,
        words: str,
        choices: Iterable[tuple[str, str]],
        *,
        of: str = "",
        takes_day: bool = False,
    ) -> str:
        """Ask something of a row.

        Parameters
        ----------
        row : the row.
        subject : what the question is about; those of one subject are answered together.
        words : the question.
        choices : answers beside leaving the row out.
        of : the text it is asked of, where every row with this text has the same answer; "" for
            a question of this row alone.
        takes_day : whether a day is an answer.

        Returns
        -------
        The answer, "" while there is none. A row left out has a problem.
        """
        key = f"{subject}:{of[:80]}" if of else f"{subject}@{row.line}"
        question = Question(key, subject, words, (*choices, _LEAVE_OUT), takes_day, (), row.line)
        asker = Asker(self.answers)
        answer = asker.ask(question)
        self.asked.update(asker.asked)
        row.open += asker.open
        if answer == LEAVE_OUT:
            row.problems.append(f"left out: {words}")
        return answer

    def keep_as_text(self, row: ListedRow, name: str, text: str) -> None:
        """A cell that is no value goes into the note, under its name.

        Parameters
        ----------
        row : the row.
        name : the field.
        text : the cell as it came.
        """
        label = FIELDS[name][0] if name in FIELDS else name
        row.remarks.append(f"{label} as received: {text[:200]}")

    # --- the person ------------------------------------------------------------------------

    def ask_faults(self, row: ListedRow, line: Line) -> None:
        """Ask about what is wrong with the line as a whole.

        Parameters
        ----------
        row : the row.
        line : as it came.
        """
        row.problems += line.refused
        row.remarks += line.remarks
        for subject, words, yes in line.asks:
            self.ask(row, subject, words, [("yes", yes)])
        shown = " | ".join(cell for cell in line.cells if cell)[:160]
        if QUOTE in line.faults:
            words = f"A quote is opened and never closed in this line: {shown}. Is it read right?"
            self.ask(row, "quote", words, [("yes", "yes, it is read right")])
        if LONG in line.faults:
            words = (
                "This line has more cells than there are names; a comma inside one may have "
                f"moved the rest: {shown}. Is it read right?"
            )
            self.ask(row, "long", words, [("yes", "yes, it is read right")])
        if LETTERS in line.faults or _GARBLED.search(shown):
            words = f"The letters of this line may be read wrongly: {shown}. Are they right?"
            self.ask(row, "letters", words, [("yes", "yes, the letters are right")])
        marked = [cell for cell in line.cells if DIRECTION.search(cell)]
        if marked:
            words = f"Invisible marks of text direction stand in {_visible(marked[0])}."
            self.ask(row, "marks", words, [("without", "read it without them")])
        row.cells = [DIRECTION.sub("", cell) for cell in line.cells]
        row.cells = [_undefused(cell) for cell in row.cells]

    def read_person(self, row: ListedRow) -> None:
        """Read who the person is.

        Parameters
        ----------
        row : the row.
        """
        if whole := self._name_cells(row, "full_name"):
            row.given_name, row.family_name = split_name(whole, self.plan.names)
        else:
            row.given_name = self._name_cells(row, "given_name")
            row.family_name = self._name_cells(row, "family_name")
        self._check_name(row)
        for name in ("record_number", "phone", "referrer"):
            setattr(row, name, " ".join(self.cells(row, name)))
            self._check_number(row, name)
        row.note = "\n".join(self.cells(row, "note"))
        for name, longest in LONGEST.items():
            if len(getattr(row, name)) > longest:
                self.keep_as_text(row, name, getattr(row, name))
                words = f"{FIELDS[name][0]} is longer than {longest} letters."
                self.ask(row, "length", words, [("cut", f"store the first {longest}")])
                setattr(row, name, getattr(row, name)[:longest])
        for cell in self.cells(row, "sex"):
            self._read_sex(row, cell)

    def _check_number(self, row: ListedRow, name: str) -> None:
        """A number that a spreadsheet shortened is not the one that was sent."""
        cell = getattr(row, name)
        if not _LOST_NUMBER.fullmatch(cell):
            return
        words = f"{FIELDS[name][0]} is written as {cell[:40]}: its digits are lost."
        said = self.ask(row, f"{name}_digits", words, [(EMPTY, "store the person without it")])
        setattr(row, name, "")
        if said == EMPTY:
            self.keep_as_text(row, name, cell)

    def _name_cells(self, row: ListedRow, name: str) -> str:
        cells = [row.cells[n] for n in self.plan.column(name)]
        return " ".join(cell for cell in cells if not is_no_name(cell))

    def _check_name(self, row: ListedRow) -> None:
        is_waiting = any(q.key == "names" for q in self.plan.open)
        if not (row.given_name or row.family_name):
            if not is_waiting or not self._name_cells(row, "full_name"):
                row.problems.append("the name is missing")
            return
        odd = [p for p in (row.given_name, row.family_name) if p and not _NAME.fullmatch(p)]
        if not (row.given_name and row.family_name):
            only = row.family_name or row.given_name
            words = f"Only one name is given: {only[:60]}. Has this person a single name?"
            self.ask(row, "name", words, [("single", "yes, store it as the family name")])
            row.given_name, row.family_name = "", only
        elif odd:
            words = f"Is this the name of a person: {odd[0][:60]}?"
            self.ask(row, "name", words, [("yes", "yes, store it as it stands")])

    def _read_sex(self, row: ListedRow, cell: str) -> None:
        code = cell.casefold().rstrip(".")
        said = self.plan.sexes.get(code) or read_sex(cell)
        if said == "":
            words = f"Sex is written as {cell[:40]}. What is it?"
            choices = [("female", "female"), ("male", "male"), ("none", "not recorded")]
            said = self.ask(row, "sex", words, choices, of=cell)
        if said in {"female", "male"}:
            row.sex = said
        elif said in {"none", LEAVE_OUT}:
            self.keep_as_text(row, "sex", cell)

    # --- days ------------------------------------------------------------------------------

    def read_days(self, row: ListedRow) -> None:
        """Read every day, the birth first: a short year is held against it.

        Parameters
        ----------
        row : the row.
        """
        first = EARLIEST_BIRTH
        row.born_on = self._day(row, "born_on", first, self.today)
        born = row.born_on or first
        far = max(born, self.today - FAR_BACK)
        row.referred_on = self._day(row, "referred_on", far, self.today)
        row.admitted_on = self._day(row, "admitted_on", far, self.today)
        row.discharged_on = self._day(row, "discharged_on", far, self.today + FAR_AHEAD)
        event = max(born, self.today - LIFETIME)
        row.event_on = self._day(row, "event_on", event, self.today)
        if row.born_on is None and not self.cells(row, "born_on") and self.plan.column("born_on"):
            row.problems.append("the date of birth is missing")
        if row.referred_on is None:
            row.referred_on = self._referral_day(row)

    def _referral_day(self, row: ListedRow) -> date | None:
        """The day given for the whole file, or the one asked for this row."""
        given = self.plan.referred_on
        if given is not None:
            return self._refused_day(row, "referred_on", f"{given}", given)
        is_open = any(q.key == "referred_on" for q in self.plan.open)
        if is_open or any(q.subject == "referred_on" for q in row.open) or row.problems:
            return None
        return self._ask_day(row, "referred_on", "When was this person referred?", [])

    def _day(self, row: ListedRow, name: str, earliest: date, latest: date) -> date | None:
        cells = self.cells(row, name)
        if not cells:
            return None
        return self.day_of_cell(row, name, cells[0], self.plan.column(name)[0], earliest, latest)

    def day_of_cell(
        self, row: ListedRow, name: str, cell: str, column: int, earliest: date, latest: date
    ) -> date | None:
        """A day, or the question about the cell.

        Parameters
        ----------
        row : the row.
        name : the field, also the subject of the question.
        cell : the text.
        column : of the cell, counted from 0.
        earliest, latest : what a year of two digits may mean.

        Returns
        -------
        The day, None while it is open or said to be unknown.
        """
        cell = swapped(cell) if column in self.plan.turned else cell
        order = self.plan.order_of.get(column, self.plan.order)
        read = read_day(cell, order, earliest, latest, self.plan.serials)
        if read.day is not None and self._contradicts(row):
            # Who wrote one day of this person the other way round may have written this one so.
            both = read_day(cell, "", earliest, latest, self.plan.serials)
            is_either = both.fault == "open" and column not in self.plan.order_of
            read = both if is_either else read
        if read.day is not None:
            return self._refused_day(row, name, cell, read.day)
        if read.fault == "open" and any(q.key == "dates" for q in self.plan.open):
            return None  # the whole file waits for the order
        words = {
            "order": f"{cell} fits only the other order of day and month.",
            "century": f"{cell} has a year of two digits that can mean more than one.",
            "partial": f"{cell} is no whole day.",
            "open": f"{cell} fits both orders of day and month.",
        }.get(read.fault, f"{cell[:60]} cannot be read as a day.")
        return self._answered(row, name, cell, words, read.may_be)

    def _contradicts(self, row: ListedRow) -> bool:
        """Whether the days of the row that prove an order all prove the one the file does not use.

        A day proves an order where one of its two numbers is over 12.
        """
        if not self.plan.order:
            return False
        columns = {n for name in DAYS for n in self.plan.column(name)} - set(self.plan.order_of)
        shapes = [day_shape(row.cells[n]) for n in columns if n < len(row.cells)]
        proved = {
            DAY_FIRST if first > MONTHS else MONTH_FIRST
            for first, second in filter(None, shapes)
            if max(first, second) > MONTHS
        }
        return bool(proved) and self.plan.order not in proved

    def _answered(
        self, row: ListedRow, name: str, cell: str, words: str, may_be: tuple[date, ...]
    ) -> date | None:
        choices = [(f"{day}", in_words(day)) for day in may_be]
        if name not in {"born_on", "referred_on"}:
            choices.append((EMPTY, "not known; keep what was sent in the note"))
        day = self._ask_day(row, name, f"{FIELDS[name][0]}: {words} Which day is it?", choices)
        if day is None and self.answers.get(f"{name}@{row.line}") == EMPTY:
            self.keep_as_text(row, name, cell)
        return day

    def _ask_day(
        self, row: ListedRow, name: str, words: str, choices: list[tuple[str, str]]
    ) -> date | None:
        """A day as answered; one that cannot be right either is asked for again."""
        day = day_of(self.ask(row, name, words, choices, takes_day=True))
        is_ahead = day is not None and day > self.today and name != "discharged_on"
        if day is not None and (is_ahead or day < EARLIEST_BIRTH):
            key = f"{name}@{row.line}"
            again = f"{words} The answer {in_words(day)} cannot be right either."
            row.open.append(Question(key, name, again, (*choices, _LEAVE_OUT), True, (), row.line))
            return None
        return day

    def _refused_day(self, row: ListedRow, name: str, cell: str, day: date) -> date | None:
        """A day that cannot be right by itself is asked about; an answer may confirm none."""
        words = ""
        if day > self.today and name != "discharged_on":
            words = f"{in_words(day)} lies in the future."
        elif name == "discharged_on" and day > self.today + FAR_AHEAD:
            words = f"{in_words(day)} lies far in the future."
        elif name == "born_on" and (day in PLACEHOLDERS or day < EARLIEST_BIRTH):
            words = f"{in_words(day)} looks like a stand-in for a day nobody knew."
        return self._answered(row, name, cell, words, ()) if words else day

    def check_days(self, row: ListedRow) -> None:
        """Ask about days that contradict each other, and about an age nobody usually has.

        Parameters
        ----------
        row : the row.
        """
        born = row.born_on
        if born is None:
            return
        others = {name: getattr(row, name) for name in DAYS[1:]}
        same = next((name for name, day in others.items() if day == born), "")
        if same:
            words = f"{in_words(born)} is also the {FIELDS[same][0].lower()}."
            row.born_on = self._answered(row, "born_on", f"{born}", words, ())
            return
        self._check_order(row)
        age = age_on(born, self.today)  # nobody is born after today: that was asked about
        if AGE_YEARS.is_unusual(age):
            words = f"Born {in_words(born)}: {age} years old. Is that right?"
            row.born_on = self._ask_day(row, "age", words, [("right", "yes")]) or born

    def _check_order(self, row: ListedRow) -> None:
        """Days of one stay that contradict each other: which one is not known?"""
        pairs = [
            ("born_on", "event_on"),
            ("born_on", "referred_on"),
            ("event_on", "discharged_on"),
            ("admitted_on", "discharged_on"),
        ]
        for early, late in pairs:
            a, b = getattr(row, early), getattr(row, late)
            if a is None or b is None or a <= b:
                continue
            words = (
                f"{FIELDS[late][0]} {in_words(b)} lies before the {FIELDS[early][0].lower()} "
                f"{in_words(a)}."
            )
            if early == "born_on":
                setattr(row, late, self._answered(row, late, f"{b}", words, ()))
                continue
            choices = [
                (early, f"the {FIELDS[early][0].lower()} is not known"),
                (late, f"the {FIELDS[late][0].lower()} is not known"),
            ]
            said = self.ask(row, "stay", words, choices)
            if said in {early, late}:
                self.keep_as_text(row, said, f"{getattr(row, said)}")
                self._forget(row, said)

    def _forget(self, row: ListedRow, name: str) -> None:
        day = getattr(row, name)
        setattr(row, name, None)
        if name == "event_on" and row.conditions and row.main.happened_on == day:
            row.main.happened_on = None


def _visible(text: str) -> str:
    return DIRECTION.sub("·", text)[:60]


def _undefused(cell: str) -> str:
    """A cell of our own file of refused rows: the apostrophe before a formula goes again."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in FORMULA_START else cell
