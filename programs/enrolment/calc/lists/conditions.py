"""Conditions of one row.

What contradicts what, and what is asked, is a project choice.
"""

import re
from datetime import date

from programs.enrolment.calc.lists.asking import day_of
from programs.enrolment.calc.lists.cells import codes_in, read_day, yes_or_no
from programs.enrolment.calc.lists.diagnoses import Diagnoses, Named, read_diagnoses
from programs.enrolment.calc.lists.rows import EMPTY, ListedRow, Reader

KIND_WORDS = {
    "mi": "heart attack",
    "pci": "stent or angioplasty",
    "cabg": "bypass surgery",
    "valve": "valve repair or replacement",
    "transplant": "heart transplant",
    "stable_angina": "stable angina",
    "heart_failure": "heart failure",
    "vad": "ventricular assist device",
}
UNCLEAR = "unclear"
OLD_INFARCT = "I25.2"  # ICD-10-CM: old myocardial infarction, healed
_DOTTED = re.compile(r"\b[A-TV-Z]\d[0-9A-Z]\.[0-9A-Z]{1,4}\b")


def read_conditions(reader: Reader, row: ListedRow) -> None:
    """Read conditions into a row.

    Parameters
    ----------
    reader : of the file.
    row : with the days already read.
    """
    _read_conditions(reader, row)


# --- conditions ----------------------------------------------------------------------------


def _read_conditions(reader: Reader, row: ListedRow) -> None:
    if reader.table.conditions:
        _read_each(reader, row)
        return
    words = reader.cells(row, "diagnosis")
    codes = _codes(reader, row, words, reader.cells(row, "icd10"))
    found = _conditions(reader, row, words, codes)
    _add_own_days(reader, row, found)
    _settle(row, found)
    _give_event(reader, row, row.conditions)  # may put another condition first


def _settle(row: ListedRow, found: list[Named]) -> None:
    """Store what was found; where nothing names a condition, a clinician will."""
    named = [one for one in found if one.kind != UNCLEAR]
    if not named:
        row.remarks.append("diagnosis not recognised: a clinician must name it")
    row.conditions = named or found[:1]
    for one in found if named else found[1:]:
        if one.kind == UNCLEAR and (one.wording or one.icd10):
            row.remarks.append(f"also received: {one.wording} {one.icd10}".rstrip())


def _read_each(reader: Reader, row: ListedRow) -> None:
    """Conditions that came one by one, each with its words, code and day."""
    found: list[Named] = []
    for words_, code, day in reader.table.conditions:
        words, cell, when = row.cells[words_], row.cells[code], row.cells[day]
        if not (words or cell):
            continue
        codes = _codes(reader, row, [words], [cell] if cell else [])
        new = _conditions(reader, row, [words] if words else [], codes)
        if when:
            born = row.born_on or date(1900, 1, 1)
            new[0].happened_on = reader.day_of_cell(row, "event_on", when, day, born, reader.today)
        found += [one for one in new if not _is_among(one, found)]
    _settle(row, found or [Named(UNCLEAR)])
    row.event_on = row.main.happened_on


def _is_among(new: Named, found: list[Named]) -> bool:
    """The same condition came before, on the same day or without one."""
    for old in found:
        if old.kind == new.kind != UNCLEAR and (
            new.happened_on is None or old.happened_on in {None, new.happened_on}
        ):
            old.happened_on = old.happened_on or new.happened_on
            old.icd10 = old.icd10 or new.icd10
            return True
    return False


def _conditions(reader: Reader, row: ListedRow, words: list[str], codes: list[str]) -> list[Named]:
    """The conditions that words and codes name together; one that is unclear for none."""
    said = read_diagnoses(words, codes, lambda text: _day_in(reader, row, text), reader.today)
    wording = "; ".join(words)
    _ask_meanings(reader, row, said, wording)
    kinds = _settle_codes(reader, row, said, wording)
    found = [named for named in said.named if named.kind in kinds]
    for kind in kinds:
        if not any(named.kind == kind for named in found):
            own = [code for code, of in said.coded if of == kind]
            found.append(Named(kind, is_earlier=bool(own) and all(map(_is_of_before, own))))
    found = found or [Named(UNCLEAR)]
    _give_codes(row, found, said, codes)
    for named in found:
        named.wording = wording[:200]
    row.remarks += [f"not taken for a condition: {text}" for text in said.denied]
    return found


def _is_of_before(code: str) -> bool:
    """Old infarct, or the state after an operation: neither says that it was this time."""
    return code == OLD_INFARCT or code.startswith("Z")


def _day_in(reader: Reader, row: ListedRow, text: str) -> date | None:
    """A day among the words of a diagnosis; one that leaves a doubt stays words."""
    born = row.born_on or date(1900, 1, 1)
    read = read_day(text, reader.plan.order, born, reader.today)
    return read.day if read.day and born <= read.day else None


def _codes(reader: Reader, row: ListedRow, words: list[str], cells: list[str]) -> list[str]:
    codes: list[str] = []
    for cell in cells:
        found, rest = codes_in(cell)
        codes += [code for code in found if code not in codes]
        for text in rest:
            words_ = f"{text[:60]} does not have the shape of an ICD-10-CM code."
            said = reader.ask(row, "icd10", words_, [(EMPTY, "keep it as text")], of=text)
            if said:
                reader.keep_as_text(row, "icd10", text)
    for cell in words:
        codes += [code for code in _DOTTED.findall(cell) if code not in codes]
    return codes


def _ask_meanings(reader: Reader, row: ListedRow, said: Diagnoses, wording: str) -> None:
    """Abbreviations of two meanings, and conditions that may be denied or not."""
    if said.abbreviation is not None and not said.coded:
        short, kinds = said.abbreviation
        choices = [(kind, KIND_WORDS[kind]) for kind in kinds]
        words = f"{short} has more than one meaning here: {wording[:100]}. Which is it?"
        answer = reader.ask(
            row, "abbreviation", words, [*choices, (UNCLEAR, "another: a clinician names it")],
            of=wording,
        )  # fmt: skip
        if answer in KIND_WORDS:
            said.named.append(Named(answer))
    if said.doubtful:
        kinds_ = " and ".join(KIND_WORDS[kind] for kind in said.doubtful)
        words = f"{wording[:120]}: does the person have {kinds_}?"
        choices = [("yes", "yes"), ("no", "no: denied, still to come, or another person’s")]
        if reader.ask(row, "denied", words, choices, of=wording) == "yes":
            said.named += [Named(kind) for kind in said.doubtful]


def _settle_codes(reader: Reader, row: ListedRow, said: Diagnoses, wording: str) -> list[str]:
    """Kinds in their order: words and codes together, or what was answered where they differ."""
    by_words = list(dict.fromkeys(named.kind for named in said.named))
    by_codes = list(dict.fromkeys(kind for _, kind in said.coded))
    if not (by_words and by_codes) or set(by_words) & set(by_codes):
        return list(dict.fromkeys(by_words + by_codes))
    codes = ", ".join(code for code, _ in said.coded)
    a, b = (", ".join(KIND_WORDS[k] for k in kinds) for kinds in (by_words, by_codes))
    answer = reader.ask(
        row,
        "words_or_code",
        f"{wording[:100]} says {a}; code {codes} says {b}. Which holds?",
        [("words", a), ("code", b), ("both", "both"), (UNCLEAR, "a clinician names it")],
        of=f"{wording} {codes}",
    )
    taken = {"words": by_words, "code": by_codes, UNCLEAR: []}
    return taken.get(answer, by_words + by_codes)


def _add_own_days(reader: Reader, row: ListedRow, found: list[Named]) -> None:
    """Columns of one kind of condition: a yes or a day there says there was one."""
    for kind, column in reader.plan.columns.flags.items():
        if yes_or_no(row.cells[column]) == "yes" and not any(one.kind == kind for one in found):
            found.append(Named(kind, wording=f"{reader.table.headers[column]}: yes"[:200]))
    for kind, column in reader.plan.columns.of_kind.items():
        cell = row.cells[column]
        born = row.born_on or date(1900, 1, 1)
        if not cell or not any(c.isdigit() for c in cell):
            continue
        day = reader.day_of_cell(row, "event_on", cell, column, born, reader.today)
        mine = next((named for named in found if named.kind == kind), None)
        if mine is None:
            found.append(Named(kind, day))
        elif mine.happened_on is None:
            mine.happened_on = day


def _give_codes(row: ListedRow, found: list[Named], said: Diagnoses, codes: list[str]) -> None:
    left = list(codes)
    for code, kind in said.coded:
        mine = next((named for named in found if named.kind == kind and not named.icd10), None)
        if mine is not None:
            mine.icd10 = code
            left.remove(code)
    if (len(codes) == 1 and len(found) == 1 and left) or (
        len(left) == 1 and found[0].kind == UNCLEAR
    ):
        found[0].icd10 = left.pop()
    if left:
        row.remarks.append(f"further codes received: {', '.join(left)}")
    for code in said.unspecific:
        row.remarks.append(f"code {code} names no qualifying condition by itself")


def _give_event(reader: Reader, row: ListedRow, found: list[Named]) -> None:
    """The day of the event's own column is that of one condition, which is the main one then.

    It is the first named that its words do not put into another year or into the past.
    """
    event = row.event_on
    if event is None:
        row.event_on = found[0].happened_on
        return
    same = [named for named in found if named.happened_on == event]
    fits = [named for named in found if _may_be_of(named, event)]
    now = [named for named in fits if not named.is_earlier]
    if not now and len(found) == 1 and found[0].icd10 != OLD_INFARCT:
        now = fits
    if same or now:
        main = (same or now)[0]
        main.happened_on = event
        found.remove(main)
        found.insert(0, main)
        return
    main = found[0]
    said = main.happened_on or main.wording[:60]
    words = f"The event date is {event}, the diagnosis says {said}. Which day is it?"
    choices = [(f"{day}", f"{day}") for day in dict.fromkeys((event, main.happened_on)) if day]
    choices.append((EMPTY, "not known; keep the event date in the note"))
    answer = reader.ask(row, "event_differs", words, choices, takes_day=True)
    if answer == EMPTY:
        reader.keep_as_text(row, "event_on", f"{event}")
        row.event_on = None
    elif day := day_of(answer):
        row.event_on = main.happened_on = day


def _may_be_of(named: Named, event: date) -> bool:
    return named.happened_on is None and (not named.years or event.year in named.years)


def clock_note(row: ListedRow) -> str:
    """What a row lacks for the clock of the first session.

    Parameters
    ----------
    row : as read.

    Returns
    -------
    A sentence, "" when the discharge is known.
    """
    if row.discharged_on is None:
        return "no discharge date: the clock counts from the event or the referral"
    return ""
