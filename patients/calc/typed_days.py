"""Days and hours as somebody types them (what is read as what is a project choice).

Nothing is guessed: a date is read in one order, and one that fits only the other is refused with
the reading it would have; an hour of twelve without am or pm is asked about.
"""

import re
from datetime import date, time

from patients.calc.days import ORDER_WORDS, clock, in_words, numeric_day
from patients.calc.measuring import SPACES

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
LONG_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august",
               "september", "october", "november", "december")  # fmt: skip
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/. ])(\d{1,2})\2(\d{4}|\d{2})")
_DAY_FIRST = re.compile(r"(\d{1,2}) ([a-z]+),? (\d{4})")
_MONTH_FIRST = re.compile(r"([a-z]+) (\d{1,2}),? (\d{4})")
_HOUR = re.compile(
    r"(\d{1,2})(?:[:.h]?(\d{2}))?(?::(\d{2}))? ?(a|p|a\.?m\.?|p\.?m\.?|noon|midnight)?"
)


class NotADay(ValueError):
    """What was typed is no day, or could be another; the message is for the reader."""


class NotAnHour(ValueError):
    """What was typed is no hour, or could be another; the message is for the reader."""


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def read_day(text: str, order: str) -> date:
    """A day typed in figures or in words.

    Parameters
    ----------
    text : in the site's order, with the year first, or with the month in words.
    order : in which figures without the year first are read: "mdy", "dmy", or "iso" for neither.

    Returns
    -------
    The day.

    Raises
    ------
    NotADay : no such day, a year of two figures, or figures that fit only the other order.
    """
    plain = SPACES.sub(" ", text).strip().casefold()
    found = _in_words_or_year_first(plain)
    if found is not None:
        return found
    match = _YEAR_LAST.fullmatch(plain)
    example = numeric_day(date(2026, 11, 26), order)
    if match is None:
        raise NotADay(f"{text[:20]!r} is no date; write it such as {example} or 26 Nov 2026.")
    one, _, two, year = match.groups()
    if len(year) == 2:
        raise NotADay(f"{text[:20]!r}: write the year in four figures, such as {example}.")
    month_first = _date(int(year), int(one), int(two))
    day_first = _date(int(year), int(two), int(one))
    read, other = (month_first, day_first) if order == "mdy" else (day_first, month_first)
    if order == "iso":
        raise NotADay(_year_first_please(text, month_first, day_first))
    if read is not None:
        return read
    if other is None:
        raise NotADay(f"{text[:20]!r}: there is no such day.")
    raise NotADay(
        f"{text[:20]!r} is no date as {ORDER_WORDS[order]}, as this site writes them. If it is "
        f"{in_words(other)}, write {numeric_day(other, order)}."
    )


def _in_words_or_year_first(plain: str) -> date | None:
    """A day that is read alike everywhere; None for a text of another form.

    Raises NotADay for one of these forms that is no day.
    """
    if match := _YEAR_FIRST.fullmatch(plain):
        found = _date(int(match[1]), int(match[3]), int(match[4]))
    elif match := _DAY_FIRST.fullmatch(plain):
        found = _with_month(match[3], match[2], match[1])
    elif match := _MONTH_FIRST.fullmatch(plain):
        found = _with_month(match[3], match[1], match[2])
    else:
        return None
    if found is None:
        raise NotADay(f"{plain[:20]!r}: there is no such day.")
    return found


def _with_month(year: str, month: str, day: str) -> date | None:
    for names in (MONTHS, LONG_MONTHS, (*MONTHS[:8], "sept")):
        if month in names:
            return _date(int(year), names.index(month) + 1, int(day))
    return None


def _year_first_please(text: str, month_first: date | None, day_first: date | None) -> str:
    days = {day: None for day in (month_first, day_first) if day is not None}
    if not days:
        return f"{text[:20]!r}: there is no such day."
    said = " or ".join(in_words(day) for day in days)
    write = " or ".join(numeric_day(day, "iso") for day in days)
    return f"{text[:20]!r} could be {said}. This site writes the year first: {write}."


def read_hour(text: str, *, is_12h: bool) -> time:
    """An hour typed in the way of 12 or of 24 hours.

    Parameters
    ----------
    text : such as 14:30, 1430, 2:30 pm, 230p, 2 pm, noon. 12 am is midnight and 12 pm noon, as
        digital clocks show them.
    is_12h : the site writes hours of twelve, so that 1:00 to 12:59 alone could be either.

    Returns
    -------
    The time of the day, without a zone.

    Raises
    ------
    NotAnHour : no such hour, or either half of the day could be meant.
    """
    plain = SPACES.sub(" ", text).strip().casefold()
    if plain in {"noon", "midnight"}:
        return time(12 if plain == "noon" else 0)
    match = _HOUR.fullmatch(plain)
    if match is None or (match[2] is None and not match[4]):
        example = clock(time(14, 30), is_12h=is_12h)
        raise NotAnHour(f"{text[:20]!r} is no time; write it such as {example}.")
    hour, minute, second = int(match[1]), int(match[2] or 0), int(match[3] or 0)
    half = (match[4] or "")[:1]
    if match[4] in {"noon", "midnight"}:
        half = "p" if match[4] == "noon" else "a"
        if (hour, minute, second) != (12, 0, 0):
            raise NotAnHour(f"{text[:20]!r}: only 12:00 is noon or midnight.")
    if minute > 59 or second > 59 or hour > 23 or (half and not 1 <= hour <= 12):
        raise NotAnHour(f"{text[:20]!r}: there is no such time of the day.")
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    elif is_12h and 1 <= hour <= 12 and not match[3]:
        shown = f"{hour}:{minute:02d}"
        raise NotAnHour(f"{text[:20]!r}: {shown} am or {shown} pm? Write it with am or pm.")
    return time(hour, minute, second)
