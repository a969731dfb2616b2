"""Cells of a hospital's list and of the referral form, read into typed values or refused.

Which spellings are understood and which words point to a condition is a project choice.
"""

import re

from patients.calc.limits import LVEF_PERCENT

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
    (r"Z95\.811$", "vad"),
]
ICD10_SHAPE = re.compile(r"[A-TV-Z][0-9][0-9A-Z](\.[0-9A-Z]{1,4})?")


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
