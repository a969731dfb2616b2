"""What a single cell says: days, marks of not knowing, sex, shapes.

Which spellings are understood, in English and Spanish, is a project choice.
"""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from programs.enrolment.calc.referral_cells import ICD10_SHAPE

DAY_FIRST, MONTH_FIRST = "day-first", "month-first"
FORMULA_START = ("=", "+", "-", "@")
# Direction marks: they make a name look like another one (Unicode, UAX #9).
DIRECTION = re.compile("[\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]")
_UNKNOWN = {
    "n/a", "na", "n.a.", "n.a", "#n/a", "unk", "unknown", "not known", "not done", "not available",
    "not recorded", "nd", "n/d", "n.d.", "s/d", "sd", "none", "null", "nil", "pending", "tbd",
    "no consta", "desconocido", "desconocida", "sin datos", "k.a.", "ka", "?", "??", "???", ".",
    "no data", "missing", "00/00/0000", "0000-00-00", "0/0/0000", "no realizado", "pendiente",
    "#ref!", "#value!",
}  # fmt: skip
_NO_NAME = {"n/a", "#n/a", "unk", "unknown", "fnu", "lnu", "nfn", "nmn", "desconocido", "?", "."}
_TIME = re.compile(
    r"[T ,]+\d{1,2}[:.]\d{2}(?::?\d{2}(?:\.\d+)?)?\s*(?:[ap]\.?\s?m\.?)?\s*"
    r"(?:Z|UTC|[+-]\d{2}:?\d{2})?$",
    re.IGNORECASE,
)
_WEEKDAY = re.compile(r"^[a-záéíóú]{2,10}[.,]+\s+(?=\d|[a-z])", re.IGNORECASE)
_MONTHS = {
    "jan": 1, "ene": 1, "feb": 2, "mar": 3, "apr": 4, "abr": 4, "may": 5, "jun": 6, "jul": 7,
    "aug": 8, "ago": 8, "sep": 9, "set": 9, "oct": 10, "nov": 11, "dec": 12, "dic": 12,
}  # fmt: skip
_LONG_MONTH = re.compile(
    r"jan(uary)?|feb(ruary)?|mar(ch)?|apr(il)?|may|june?|july?|aug(ust)?|sept?(ember)?|oct(ober)?"
    r"|nov(ember)?|dec(ember)?|ene(ro)?|feb(rero)?|mar(zo)?|abr(il)?|mayo?|jun(io)?|jul(io)?"
    r"|ago(sto)?|sept?(iembre)?|set(iembre)?|oct(ubre)?|nov(iembre)?|dic(iembre)?"
)
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_NUMBERS = re.compile(r"(\d{1,2})([/.\-])(\d{1,2})\2(\d{4}|\d{2})")
_EIGHT = re.compile(r"\d{8}")
_DAY_MONTH = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th)?[ \-.]*(?:de |of )?([a-z]{3,10})\.?[ \-,./]*(?:de |del )?"
    r"(\d{4}|\d{2})",
    re.IGNORECASE,
)
_MONTH_DAY = re.compile(
    r"([a-z]{3,10})\.?[ \-]+(\d{1,2})(?:st|nd|rd|th)?[ \-,]+(\d{4}|\d{2})", re.IGNORECASE
)
_PARTIAL = re.compile(
    r"\d{4}|\d{4}[-/.]\d{1,2}|\d{1,2}[-/.]\d{4}|[a-z]{3,10}\.?[ \-]*(?:de |del )?\d{4}",
    re.IGNORECASE,
)
_NEAR = timedelta(days=800)  # before the latest day a cell may mean, and a year of a list
SERIAL = re.compile(r"[1-6]\d{4}(?:\.\d+)?")  # days of a spreadsheet: 18 May 1927 to 2091
IN_TEXT = re.compile(
    r"\b\d{4}-\d{1,2}-\d{1,2}\b|\b\d{1,2}[/.\-]\d{1,2}[/.\-](?:\d{4}|\d{2})\b"
    r"|\b\d{1,2} (?:de )?[A-Za-z]{3,10}\.? (?:de )?\d{4}\b|\b[A-Z][a-z]{2,9}\.? \d{1,2}, \d{4}\b"
)


@dataclass(frozen=True)
class Day:
    """What a cell says of a day: the day, or why none and which it may be."""

    day: date | None = None
    fault: str = ""  # "unreadable", "partial", "order", "open", "century"
    may_be: tuple[date, ...] = ()


def is_unknown(cell: str) -> bool:
    """Whether a cell only says that nothing is known.

    Parameters
    ----------
    cell : the text, stripped.

    Returns
    -------
    True for "", dashes, and marks such as N/A, unk, not done, s/d, k.A.
    """
    return not cell.strip("-–—_* ") or cell.casefold() in _UNKNOWN


def is_no_name(cell: str) -> bool:
    """Whether a cell of a name says that the name is not known; "Na" is a name.

    Parameters
    ----------
    cell : the text, stripped.

    Returns
    -------
    True for "", dashes and marks such as N/A, unknown, FNU.
    """
    return not cell.strip("-–—_* ") or cell.casefold() in _NO_NAME


@lru_cache(maxsize=65536)
def _bare(cell: str) -> str:
    text = _WEEKDAY.sub("", cell.strip())
    return _TIME.sub("", text).strip()


def looks_like_day(cell: str) -> bool:
    """Whether a cell has the shape of a day, readable or not.

    Parameters
    ----------
    cell : the text.

    Returns
    -------
    True for every form that ``read_day`` knows, bare serial numbers of spreadsheets aside.
    """
    text = _bare(cell)
    if _ISO.fullmatch(text) or _NUMBERS.fullmatch(text):
        return True
    named = _DAY_MONTH.fullmatch(text) or _MONTH_DAY.fullmatch(text)
    return named is not None and any(_month(part) for part in named.groups())


def day_shape(cell: str) -> tuple[int, int] | None:
    """The first two numbers of a day written in numbers, year last.

    Parameters
    ----------
    cell : the text.

    Returns
    -------
    The two numbers, of which one is the month; None for any other form.
    """
    match = _NUMBERS.fullmatch(_bare(cell))
    return (int(match[1]), int(match[3])) if match else None


def swapped(cell: str) -> str:
    """A day of a spreadsheet that took day and month for each other, the right way round.

    Parameters
    ----------
    cell : the text.

    Returns
    -------
    2026-05-04 for 2026-04-05; any other form as it is.
    """
    match = _ISO.fullmatch(_bare(cell))
    return f"{match[1]}-{match[3]}-{match[2]}" if match and int(match[3]) <= 12 else cell


def iso_parts(cell: str) -> tuple[int, int] | None:
    """Month and day of a day written year first.

    Parameters
    ----------
    cell : the text.

    Returns
    -------
    The two numbers; None for any other form.
    """
    match = _ISO.fullmatch(_bare(cell))
    return (int(match[2]), int(match[3])) if match else None


def read_day(cell: str, order: str, earliest: date, latest: date, serials: str = "") -> Day:
    """A day from ISO, from numbers in the order of the file, or with its month in words.

    Parameters
    ----------
    cell : the text; a weekday before and a time behind are dropped.
    order : ``DAY_FIRST``, ``MONTH_FIRST`` or "" while nobody has said.
    earliest, latest : what a year of two digits may mean; a full year is not held to them.
    serials : "1900" or "1904" where bare numbers are days of a spreadsheet, "" where not.

    Returns
    -------
    The day; or "open" without an order that is needed, "order" where only the other order fits,
    "century" where a short year fits twice, "partial" without a day, else "unreadable"; with
    the days it may be.
    """
    text = _bare(cell)
    if match := _ISO.fullmatch(text):
        return _one(_real(int(match[1]), int(match[2]), int(match[3])))
    if match := _NUMBERS.fullmatch(text):
        a, b, last = int(match[1]), int(match[3]), match[4]
        return _or_year_first(_numbers(a, b, last, order, earliest, latest), a, b, last, latest)
    if _EIGHT.fullmatch(text):
        whole = _real(int(text[:4]), int(text[4:6]), int(text[6:]))
        if whole and 1900 <= whole.year <= latest.year + 1:
            return Day(whole)
        return _numbers(int(text[:2]), int(text[2:4]), text[4:], order, earliest, latest)
    if match := _DAY_MONTH.fullmatch(text):
        return _short(int(match[1]), _month(match[2]), match[3], earliest, latest)
    if match := _MONTH_DAY.fullmatch(text):
        return _short(int(match[2]), _month(match[1]), match[3], earliest, latest)
    if serials and SERIAL.fullmatch(text):
        first = date(1899, 12, 30) if serials == "1900" else date(1904, 1, 1)
        return Day(first + timedelta(days=int(float(text))))
    return Day(fault="partial" if _PARTIAL.fullmatch(text) else "unreadable")


def _or_year_first(read: Day, a: int, b: int, last: str, latest: date) -> Day:
    """26/10/14 in a list of late 2026 is no day of 2014 without a question."""
    if read.day is None or len(last) != 2:
        return read
    other = _real(2000 + a, b, int(last))
    is_near = other is not None and latest - _NEAR <= other <= latest
    if other is None or not is_near or read.day >= latest - 2 * _NEAR:
        return read
    return Day(fault="century", may_be=(other, read.day))


def _numbers(a: int, b: int, year: str, order: str, earliest: date, latest: date) -> Day:
    day_first, month_first = (
        _short(a, b, year, earliest, latest),
        _short(b, a, year, earliest, latest),
    )
    fits_day, fits_month = _fits(day_first), _fits(month_first)
    if not (fits_day or fits_month):
        return Day(fault="unreadable")
    if a == b:
        return day_first
    if not order:
        if fits_day and fits_month:
            return Day(fault="open", may_be=(*fits_day, *fits_month))
        return day_first if fits_day else month_first
    chosen, other, fits = (
        (day_first, month_first, fits_day)
        if order == DAY_FIRST
        else (month_first, day_first, fits_month)
    )
    return chosen if fits else Day(fault="order", may_be=_fits(other))


def _fits(day: Day) -> tuple[date, ...]:
    return (day.day,) if day.day else day.may_be


def _short(day: int, month: int, year: str, earliest: date, latest: date) -> Day:
    """A day whose year has two or four digits."""
    if len(year) == 4:
        return _one(_real(int(year), month, day))
    days = [_real(century + int(year), month, day) for century in (1900, 2000)]
    possible = tuple(d for d in days if d and earliest <= d <= latest)
    if len(possible) == 1:
        return Day(possible[0])
    real = tuple(d for d in days if d)
    return Day(fault="century", may_be=possible or real) if real else Day(fault="unreadable")


def _one(day: date | None) -> Day:
    return Day(day) if day else Day(fault="unreadable")


def _real(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _month(word: str) -> int:
    return _MONTHS.get(word[:3].lower(), 0) if _LONG_MONTH.fullmatch(word.lower()) else 0


_FEMALE = {"f", "female", "w", "woman", "mujer", "hembra", "femenino", "femenina", "fem"}
_MALE = {"male", "man", "h", "hombre", "macho", "v", "varon", "varón", "masculino", "masc"}
_EITHER = {"m", "0", "1", "2"}  # man or mujer; codes
_NO_SEX = {"u", "o", "9", "other", "otro", "i", "indeterminado", "nonbinary", "non-binary"}


def read_sex(cell: str) -> str:
    """Sex from a word or letter that has one meaning.

    Parameters
    ----------
    cell : the text.

    Returns
    -------
    "female" or "male"; "open" for a code with two meanings (m, 1, 2, 0); "none" for a mark that
    says neither; "" for what is not understood.
    """
    word = cell.strip().casefold().rstrip(".")
    for words, sex in [(_FEMALE, "female"), (_MALE, "male"), (_EITHER, "open"), (_NO_SEX, "none")]:
        if word in words:
            return sex
    return "none" if is_unknown(word) else ""


def yes_or_no(cell: str) -> str:
    """Yes or no in English and Spanish.

    Parameters
    ----------
    cell : the text.

    Returns
    -------
    "yes" or "no"; "" for anything else, such as an x or a number.
    """
    word = cell.strip().casefold().rstrip(".")
    if word in {"y", "yes", "true", "si", "sí", "s"}:
        return "yes"
    return "no" if word in {"n", "no", "false"} else ""


def codes_in(cell: str) -> tuple[list[str], list[str]]:
    """The ICD-10-CM codes of a cell, and what has not the shape of one.

    Parameters
    ----------
    cell : one code or several, parted by ";", ",", "/", "|" or spaces; words behind a code
        ("I21.4 - NSTEMI") are left to the diagnosis.

    Returns
    -------
    Codes in capitals with their point, each once; and the parts that are none.
    """
    codes, rest = [], []
    for part in re.split(r"[;,/|\n]+", cell):
        for place, word in enumerate(part.split()):
            code = _code(word.strip("().:-*"))
            if code:
                codes += [code] if code not in codes else []
            elif place == 0 or not codes:
                rest.append(part.strip())
                break
            else:
                break
    # Words beside a code are its name; what holds a digit may be a code mistyped.
    return codes, [part for part in rest if not codes or any(c.isdigit() for c in part)]


def _code(word: str) -> str:
    code = word.upper()
    if "." not in code and len(code) > 3:
        code = f"{code[:3]}.{code[3:]}"
    return code if ICD10_SHAPE.fullmatch(code) else ""
