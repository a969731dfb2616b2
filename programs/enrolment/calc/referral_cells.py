"""Cells of a hospital's list and of the referral form, read into typed values or refused.

Which spellings are understood and which words point to a condition is a project choice.
"""

import re
from collections.abc import Iterable
from datetime import date

from patients.calc.limits import HEIGHT_CM, LVEF_PERCENT, WEIGHT_KG
from patients.calc.units import cm_from_feet_inches, kg_from_lb

DAY_FIRST, MONTH_FIRST = "day-first", "month-first"
MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]

# Words found in referral letters, most specific first. They suggest a kind; a clinician confirms.
DIAGNOSIS_WORDS: list[tuple[str, str]] = [
    (r"\bno\b|\bnot\b|r/o|rule out|ruled out|without|denies|negative for", "unclear"),
    (r"gastric|femoral|fem-?pop|carotid|renal|kidney|liver|iliac|popliteal", "unclear"),
    (r"(heart|cardiac).{0,10}transplant|\bohtx?\b", "transplant"),
    (r"bypass|\bcabg\b", "cabg"),
    (r"valve|\b[atm]vr\b|\btavr\b|\btavi\b|mitraclip|mitral repair", "valve"),
    (r"unstable angina", "unclear"),
    (r"stent|angioplasty|\bptca\b|\bpci\b|\bdes\b", "pci"),
    (r"heart attack|myocardial infarction|n?-?stemi|\bmi\b", "mi"),
    (r"heart failure|\bhfr?p?ef\b|\bchf\b|cardiomyopathy", "heart_failure"),
    (r"stable angina|angina", "stable_angina"),
]
# ICD-10-CM families; see fixtures/reference/icd10_families.csv for each code's source.
ICD10_FAMILIES: list[tuple[str, str]] = [
    (r"I2[12](\.|$)", "mi"),
    (r"I25\.2$", "mi"),
    (r"I20\.[1289]|I25\.11[189]", "stable_angina"),
    (r"Z95\.1$", "cabg"),
    (r"Z95\.5$|Z98\.61$", "pci"),
    (r"Z95\.[234]$", "valve"),
    (r"Z94\.[13]$", "transplant"),
    (r"I50\.[24]2$", "heart_failure"),
]
ICD10_SHAPE = re.compile(r"[A-TV-Z][0-9][0-9A-Z](\.[0-9A-Z]{1,4})?")


def guess_date_order(cells: Iterable[str]) -> str:
    """Day-first or month-first for dates such as 03/04/2026.

    One cell with a first number over 12 proves day-first, one with a second over 12 month-first;
    both in the same file prove nothing.

    Parameters
    ----------
    cells : every date cell of the file; other text is passed over.

    Returns
    -------
    ``DAY_FIRST`` or ``MONTH_FIRST``; "" when nothing in the file tells.
    """
    proofs = set()
    for cell in cells:
        match = re.match(r"(\d{1,2})[/.\-](\d{1,2})[/.\-]\d{2,4}$", cell.strip())
        if match:
            first, second = int(match[1]), int(match[2])
            if first > 12 >= second:
                proofs.add(DAY_FIRST)
            elif second > 12 >= first:
                proofs.add(MONTH_FIRST)
    return proofs.pop() if len(proofs) == 1 else ""


def read_date(cell: str, order: str) -> date:
    """A calendar date from ISO, "3 Feb 2026", or numbers in the given order.

    Parameters
    ----------
    cell : the text; a time of midnight or after "T" is dropped.
    order : ``DAY_FIRST``, ``MONTH_FIRST`` or "" for unknown; a number over 12 overrules it.

    Returns
    -------
    The date.

    Raises
    ------
    ValueError : unreadable, impossible, two-digit year, or ambiguous without an order.
    """
    text = cell.strip().split("T")[0].split(" 00:00")[0]
    if match := re.fullmatch(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})", text):
        return date(int(match[1]), int(match[2]), int(match[3]))
    if match := re.fullmatch(r"(\d{1,2})[ \-]([A-Za-z]{3})[a-z]*[ \-,]+(\d{4})", text):
        if match[2].lower() not in MONTHS:
            raise ValueError(f"{text!r} is not a date")
        return date(int(match[3]), MONTHS.index(match[2].lower()) + 1, int(match[1]))
    if match := re.fullmatch(r"(\d{1,2})[/.\-](\d{1,2})[/.\-](\d{4})", text):
        first, second, year = int(match[1]), int(match[2]), int(match[3])
        if first > 12 or (order == DAY_FIRST and second <= 12):
            return date(year, second, first)
        if second > 12 or order == MONTH_FIRST:
            return date(year, first, second)
        if first == second:
            return date(year, first, second)
        raise ValueError(f"{text} could be day-first or month-first; choose the date order")
    if re.fullmatch(r"\d{1,2}[/.\-]\d{1,2}[/.\-]\d{2}", text):
        raise ValueError(f"{text} has a two-digit year")
    raise ValueError(f"{text!r} is not a date")


def read_weight_kg(cell: str, unit: str = "") -> float:
    """Body mass from "82", "82.5 kg", "180 lb", "180 lbs"; a unit in the cell goes first.

    Parameters
    ----------
    cell : the text, a decimal point or comma allowed.
    unit : the column's own unit as ``unit_in`` gives it, "" for none.

    Returns
    -------
    Mass. [kg], 25 to 350, unrounded

    Raises
    ------
    ValueError : not a number, or no unit of mass in the cell or the column.
    OutOfRange : an impossible mass.
    """
    match = re.fullmatch(
        r"(\d+(?:[.,]\d+)?)\s*(kgs?|kilos?|lbs?|pounds?)?\.?", cell.strip().lower()
    )
    if not match:
        raise ValueError(f"weight {cell!r} is not a number with kg or lb")
    number, word = float(match[1].replace(",", ".")), match[2] or unit
    if word[:1] not in {"k", "l", "p"}:
        raise ValueError(f"weight {cell!r} has no unit; kg or lb?")
    return WEIGHT_KG.check(kg_from_lb(number) if word[0] in "lp" else number)


def read_height_cm(cell: str, unit: str = "") -> float:
    """Body height from "175", "1.75 m", 5'11", "5 ft 11 in" or "71 in".

    A bare number in a column without a unit is metres below 3 and centimetres from 100 on.

    Parameters
    ----------
    cell : the text, a decimal point or comma allowed.
    unit : the column's own unit as ``unit_in`` gives it, "" for none.

    Returns
    -------
    Height. [cm], 100 to 250, unrounded

    Raises
    ------
    ValueError : not a length, or a bare number from 3 to below 100 without a unit.
    OutOfRange : an impossible height.
    """
    text = cell.strip().lower().replace("”", '"').replace("’", "'")
    if match := re.fullmatch(
        r"(\d)\s*(?:'|ft|feet)\s*(?:(\d{1,2}(?:\.\d+)?)\s*(?:\"|in|inches|'')?)?", text
    ):
        return HEIGHT_CM.check(cm_from_feet_inches(int(match[1]), float(match[2] or 0)))
    match = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(cm|m|in|inches|\")?", text)
    if not match:
        raise ValueError(f"height {cell!r} is not a length in cm, m, feet or inches")
    number, word = float(match[1].replace(",", ".")), match[2] or unit
    if word[:1] not in {"", "c", "m", "i", '"'}:
        raise ValueError(f"height {cell!r} is not a length in cm, m, feet or inches")
    if word == "m" or (not word and number < 3):
        return HEIGHT_CM.check(number * 100)
    if word.startswith(("in", '"')):
        return HEIGHT_CM.check(cm_from_feet_inches(0, number))
    if not word and number < 100:
        raise ValueError(f"height {cell!r} has no unit; cm or inches?")
    return HEIGHT_CM.check(number)


def is_lvef_range(cell: str) -> bool:
    """Whether a cell holds a range such as "35-40" or "35 to 40 %".

    A range is never halved and never rounded; a clinician is asked.

    Parameters
    ----------
    cell : the text.

    Returns
    -------
    True for two numbers of one or two digits joined by "-", "–" or "to".
    """
    text = cell.replace("%", "").strip()
    return re.fullmatch(r"\d{1,2}\s*(-|–|to)\s*\d{1,2}", text) is not None


def read_lvef(cell: str) -> float:
    """LVEF from "45", "45 %" or "45%"; a range such as "35-40" needs a clinician's number.

    Parameters
    ----------
    cell : the text, a decimal point or comma allowed.

    Returns
    -------
    LVEF. [%], 5 to 85

    Raises
    ------
    ValueError : a range, not a number, or a fraction instead of per cent.
    OutOfRange : an impossible LVEF.
    """
    text = cell.replace("%", "").strip().replace(",", ".")
    if is_lvef_range(cell):
        raise ValueError(f"LVEF {cell!r} is a range; a clinician must give one number")
    try:
        number = float(text)
    except ValueError as error:
        raise ValueError(f"LVEF {cell!r} is not a percentage") from error
    if 0 < number < 1:
        raise ValueError(f"LVEF {cell!r} looks like a fraction; give per cent")
    return LVEF_PERCENT.check(number)


def read_nyha(cell: str) -> int:
    """NYHA class from "II", "2", "NYHA II" or "class 2".

    Parameters
    ----------
    cell : the text.

    Returns
    -------
    Class, 1 to 4.

    Raises
    ------
    ValueError : not I to IV.
    """
    text = cell.upper().replace("NYHA", "").replace("CLASS", "").strip()
    known = {"I": 1, "II": 2, "III": 3, "IV": 4, "1": 1, "2": 2, "3": 3, "4": 4}
    if text not in known:
        raise ValueError(f"NYHA {cell!r} is not I to IV")
    return known[text]


def read_sex(cell: str) -> str:
    """Sex from a word or letter such as "F" or "male".

    Parameters
    ----------
    cell : the text.

    Returns
    -------
    "female" or "male"; "" for anything else, never guessed.
    """
    return {"f": "female", "female": "female", "w": "female", "woman": "female", "m": "male",
            "male": "male", "man": "male"}.get(cell.strip().lower(), "")  # fmt: skip


def family_of(icd10: str) -> str:
    """The condition an ICD-10-CM code stands for.

    Parameters
    ----------
    icd10 : the code in capitals with its point, such as "I21.4".

    Returns
    -------
    Kind of condition; "" for a code of no family known here.
    """
    return next((kind for pattern, kind in ICD10_FAMILIES if re.match(pattern, icd10)), "")


def kind_of(wording: str, icd10: str) -> str:
    """The condition a code or, failing that, the wording points to; a clinician confirms.

    Parameters
    ----------
    wording : the diagnosis in the referrer's words, "" for none.
    icd10 : the code in capitals with its point, "" for none.

    Returns
    -------
    Kind of condition; "unclear" when neither points to one.
    """
    if family := family_of(icd10):
        return family
    for pattern, kind in DIAGNOSIS_WORDS:
        if re.search(pattern, wording.lower()):
            return kind
    return "unclear"


def split_name(full: str) -> tuple[str, str]:
    """Given and family name from "Family, Given" or "Given Family".

    Parameters
    ----------
    full : the whole name.

    Returns
    -------
    Given name, family name; a single word is the family name and the given name is "".
    """
    if "," in full:
        family, given = full.split(",", 1)
        return given.strip(), family.strip()
    given, _, family = full.strip().rpartition(" ")
    return given.strip(), family.strip()


def unit_in(header: str) -> str:
    """The unit a column's own header states, such as "Weight (lb)".

    Parameters
    ----------
    header : the header as the file writes it.

    Returns
    -------
    "kg", "lb", "lbs", "pounds", "cm", "inches" or, as the last word, "in"; "" for none.
    """
    words = re.findall(r"[a-z]+", header.lower())
    for unit in ("kg", "lb", "lbs", "pounds", "cm", "inches"):
        if unit in words:
            return unit
    return "in" if words and words[-1] == "in" else ""
