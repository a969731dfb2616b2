"""One row of a hospital's list, read into typed values or refused with reasons.

What refuses a row and what is only remarked upon is a project choice.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from patients.calc.age import EARLIEST_BIRTH, age_on
from patients.calc.days import in_words
from patients.calc.limits import AGE_YEARS, OutOfRange
from programs.enrolment.calc.referral_cells import (
    ICD10_SHAPE,
    kind_of,
    read_date,
    read_height_cm,
    read_lvef,
    read_nyha,
    read_sex,
    read_weight_kg,
    split_name,
)

PHONE_SHAPE = re.compile(r"\+?[\d\s().-]+")
LONGEST = {"given_name": 80, "family_name": 80, "record_number": 40, "phone": 40}
FORMULA_START = ("=", "+", "-", "@")


@dataclass
class ReferralRow:
    """What one row says. ``problems`` refuse it; ``remarks`` are shown beside it."""

    line: int
    given_name: str = ""
    family_name: str = ""
    born_on: date | None = None
    sex: str = ""
    record_number: str = ""
    phone: str = ""
    kind: str = "unclear"
    wording: str = ""
    icd10: str = ""
    event_on: date | None = None
    admitted_on: date | None = None
    discharged_on: date | None = None
    referred_on: date | None = None
    referrer: str = ""
    lvef_percent: float | None = None
    lvef_reported: str = ""
    nyha_class: int | None = None
    reported_weight_kg: float | None = None
    reported_height_cm: float | None = None
    note: str = ""
    problems: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    @property
    def is_good(self) -> bool:
        """Whether nothing refuses the row; remarks do not."""
        return not self.problems


def read_row(
    line: int, cells: Mapping[str, str], order: str, today: date, units: Mapping[str, str]
) -> ReferralRow:
    """Read one row's cells; every fault is collected, none stops the reading.

    Parameters
    ----------
    line : line in the file, as a spreadsheet numbers it. [lines], counted from 1
    cells : text by field of ``columns.FIELDS``; an absent field was not given.
    order : ``DAY_FIRST``, ``MONTH_FIRST`` or "" for unknown.
    today : the site's day; birth, event and referral may not lie after it.
    units : the column's own unit by field, for "weight" and "height".

    Returns
    -------
    What could be read, with the problems that refuse the row and the remarks shown beside it.
    """
    row = ReferralRow(line)
    _read_identity(row, cells)
    for name in ("born_on", "event_on", "admitted_on", "discharged_on", "referred_on"):
        if cells.get(name):
            _try(row, name, read_date, cells[name], order)
    for name, reader in [("lvef_percent", read_lvef), ("nyha_class", read_nyha)]:
        if cells.get(name):
            _try(row, name, reader, cells[name], ask=True)
    if row.lvef_percent is None:
        row.lvef_reported = cells.get("lvef_percent", "")
    for name, target, measure in [
        ("weight", "reported_weight_kg", read_weight_kg),
        ("height", "reported_height_cm", read_height_cm),
    ]:
        if cells.get(name):
            _try(row, target, measure, cells[name], units.get(name, ""))
    _read_diagnosis(row, cells)
    _check_dates(row, today)
    for name, value in cells.items():
        is_phone = name == "phone" and PHONE_SHAPE.fullmatch(value)
        if value.startswith(FORMULA_START) and not is_phone:
            row.problems.append(f"{name.replace('_', ' ')} {value[:30]!r} looks like a formula")
    return row


def _read_identity(row: ReferralRow, cells: Mapping[str, str]) -> None:
    row.given_name, row.family_name = cells.get("given_name", ""), cells.get("family_name", "")
    if cells.get("full_name"):
        row.given_name, row.family_name = split_name(cells["full_name"])
    if not (row.given_name and row.family_name):
        row.problems.append("given and family name are both needed")
    row.record_number = cells.get("record_number", "")
    row.phone, row.referrer = cells.get("phone", ""), cells.get("referrer", "")
    for name, longest in LONGEST.items():
        if len(getattr(row, name)) > longest:
            row.problems.append(f"{name.replace('_', ' ')} is longer than {longest} letters")
    row.note = cells.get("note", "")
    row.sex = read_sex(cells.get("sex", ""))
    if not row.sex:
        row.remarks.append("sex not given: sex-specific reference values will be missing")


def _try(row: ReferralRow, name: str, reader, *args, ask: bool = False) -> None:
    """Read one cell; a fault becomes a problem, or a remark where a clinician must be asked."""
    try:
        setattr(row, name, reader(*args))
    except (OutOfRange, ValueError) as error:
        words = str(error).rstrip(".")
        (row.remarks if ask else row.problems).append(
            words if ask else f"{name.replace('_', ' ')}: {words}"
        )


def _read_diagnosis(row: ReferralRow, cells: Mapping[str, str]) -> None:
    row.wording = cells.get("diagnosis", "")
    code = cells.get("icd10", "").upper().replace(" ", "")
    if code and "." not in code and len(code) > 3:
        code = f"{code[:3]}.{code[3:]}"
    if code and not ICD10_SHAPE.fullmatch(code):
        row.problems.append(f"ICD-10-CM code {code!r} does not have the shape of a code")
        code = ""
    row.icd10 = code
    row.kind = kind_of(row.wording, code)
    if row.kind == "unclear":
        row.remarks.append("diagnosis not recognised: a clinician must name it")


def _check_dates(row: ReferralRow, today: date) -> None:
    if row.born_on is None and not any(p.startswith("born on") for p in row.problems):
        row.problems.append("date of birth is missing")
    if row.referred_on is None and not any(p.startswith("referred on") for p in row.problems):
        row.problems.append("referral date is missing")
    if row.born_on and not EARLIEST_BIRTH <= row.born_on <= today:
        row.problems.append(f"date of birth {in_words(row.born_on)} cannot be right")
    elif row.born_on and AGE_YEARS.is_unusual(age := age_on(row.born_on, today)):
        row.remarks.append(f"{age} years old: is the date of birth right?")
    for name in ("event_on", "referred_on"):
        day = getattr(row, name)
        if day and day > today:
            row.problems.append(
                f"{name.replace('_on', '')} date {in_words(day)} lies in the future"
            )
    _check_order(row, today)
    if row.discharged_on is None:
        row.remarks.append("no discharge date: the clock counts from the event or the referral")


def _check_order(row: ReferralRow, today: date) -> None:
    if row.event_on and row.born_on and row.event_on < row.born_on:
        row.problems.append("event lies before the date of birth")
    if row.event_on and row.discharged_on and row.discharged_on < row.event_on:
        row.problems.append("discharge lies before the event")
    if row.admitted_on and row.discharged_on and row.discharged_on < row.admitted_on:
        row.problems.append("discharge lies before admission")
    if row.discharged_on and row.discharged_on > today:
        row.remarks.append(f"discharge is planned for {in_words(row.discharged_on)}")
