"""Weight, height and ejection fraction as lists write them.

Which spellings are understood is a project choice; the pound and the inch are exact by definition
(International yard and pound agreement, 1959).
"""

import re
from dataclasses import dataclass

from patients.calc.limits import HEIGHT_CM, WEIGHT_KG
from patients.calc.units import cm_from_feet_inches, kg_from_lb

_NUMBER = r"\d+(?:[.,]\d+)?"
_FRACTIONS = {"1/2": 0.5, "½": 0.5, "1/4": 0.25, "¼": 0.25, "3/4": 0.75, "¾": 0.75}
_FEET = re.compile(
    r"(\d)\s*(?:'|ft\.?|feet|foot|f)\s*-?\s*"
    r"(?:(\d{1,2}(?:[.,]\d+)?)?\s*(1/2|1/4|3/4|½|¼|¾)?\s*(?:\"|in\.?|inches|inch|'')?)?"
)
_REPORT = re.compile(
    r"[<>≤≥~]\s*\d{1,2}\s*%?|\d{1,2}\s*%?\s*(?:-|–|to|a)\s*\d{1,2}\s*%?[\sa-z(),]*"
    r"|(?:(?:mildly|moderately|severely|mild|moderate|severe|low|borderline|near)[ -]?)*"
    r"(?:normal|preserved|reduced|impaired|depressed|hyperdynamic|conservada|preservada"
    r"|reducida|deprimida)(?: ef| lvef| function)?",
    re.IGNORECASE,
)
_PERCENT = re.compile(
    rf"(?:lvef|ef|fevi)?\s*[:=]?\s*({_NUMBER})\s*%?(?:\s*[(,;-]?\s*[a-záéíóú][^\d]*)?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class LvefWords:
    """What a cell of an ejection fraction holds."""

    percent: float | None = None  # [%]
    fraction: float | None = None  # [1], above 0 and below 1
    is_report: bool = False  # a range, a bound or a word: kept as reported, never halved


def read_lvef_words(cell: str) -> LvefWords:
    """What a cell of an ejection fraction holds.

    Parameters
    ----------
    cell : such as "45", "45 %", "0.35", "35-40", "> 55 %", "preserved", "60 % (normal)".

    Returns
    -------
    Per cent, a fraction, or that it is a report to keep; all empty for what is not understood.
    """
    text = cell.strip()
    if _REPORT.fullmatch(text):
        return LvefWords(is_report=True)
    match = _PERCENT.fullmatch(text)
    if match is None:
        return LvefWords()
    number = float(match[1].replace(",", "."))
    if 0 < number < 1 and "%" not in text:
        return LvefWords(fraction=number)
    return LvefWords(percent=number)


def read_weight(cell: str, unit: str) -> float:
    """Body mass from "82.5 kg", "180 lb", "182#", or a number in the unit of the file.

    Parameters
    ----------
    cell : the text, a decimal point or comma allowed.
    unit : "kg" or "lb" of the column, "" while nobody has said.

    Returns
    -------
    Mass. [kg], 25 to 350, unrounded

    Raises
    ------
    ValueError : not a number, or no unit.
    OutOfRange : an impossible mass.
    """
    match = re.fullmatch(
        rf"({_NUMBER})\s*(kgs?|kilos?|kilograms?|lbs?|pounds?|#|libras?)?\.?", cell.strip().lower()
    )
    if not match:
        raise ValueError(f"weight {cell!r} is not a number with kg or lb")
    number, word = float(match[1].replace(",", ".")), match[2] or unit
    if not word:
        raise ValueError(f"weight {cell!r} has no unit; kg or lb?")
    return WEIGHT_KG.check(number if word[0] == "k" else kg_from_lb(number))


def read_height(cell: str, unit: str) -> float:
    """Body height from "175", "1.75 m", 5'10 1/2", "5 ft 11 in", "71 in".

    A bare number below 3 is metres and one from 100 on centimetres: nothing else is possible.

    Parameters
    ----------
    cell : the text, a decimal point or comma allowed.
    unit : "cm", "in", "ft" or "ft.in" of the file, "" while nobody has said.

    Returns
    -------
    Height. [cm], 100 to 250, unrounded

    Raises
    ------
    ValueError : not a length, or a bare number from 3 to below 100 without a unit.
    OutOfRange : an impossible height.
    """
    text = cell.strip().lower().replace("”", '"').replace("’", "'").replace("′", "'")
    text = text.replace("″", '"').replace("“", '"')
    if match := _FEET.fullmatch(text):
        inches = float((match[2] or "0").replace(",", ".")) + _FRACTIONS.get(match[3] or "", 0.0)
        if inches >= 12:
            raise ValueError(f"height {cell!r} has 12 or more inches beside its feet")
        return HEIGHT_CM.check(cm_from_feet_inches(int(match[1]), inches))
    match = re.fullmatch(
        rf"({_NUMBER})\s*(1/2|½)?\s*(cms?|metres?|meters?|m|inches|in|\")?\.?", text
    )
    if not match:
        raise ValueError(f"height {cell!r} is not a length in cm, m, feet or inches")
    number = float(match[1].replace(",", ".")) + _FRACTIONS.get(match[2] or "", 0.0)
    word = match[3] or ""
    if word.startswith("c") or (not word and number >= 100):
        return HEIGHT_CM.check(number)
    if word.startswith("m") or (not word and number < 3):
        return HEIGHT_CM.check(number * 100)
    if word or unit == "in":
        return HEIGHT_CM.check(cm_from_feet_inches(0, number))
    return HEIGHT_CM.check(_in_feet(cell, match[1], unit))


def _in_feet(cell: str, number: str, unit: str) -> float:
    """A bare number of feet: broken, or with its inches behind the point."""
    if unit == "ft":
        return cm_from_feet_inches(float(number.replace(",", ".")))
    if unit == "ft.in":
        feet, _, inches = number.replace(",", ".").partition(".")
        if int(inches or 0) < 12 and int(feet) < 9:
            return cm_from_feet_inches(int(feet), int(inches or 0))
    raise ValueError(f"height {cell!r} has no unit; cm, or feet and inches?")
