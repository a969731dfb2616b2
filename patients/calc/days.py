"""A day and an hour in words (the forms are a project choice)."""

from datetime import date, datetime, time

FIGURES = {"mdy": "%m/%d/%Y", "dmy": "%d/%m/%Y", "iso": "%Y-%m-%d"}
ORDER_WORDS = {"mdy": "mm/dd/yyyy", "dmy": "dd/mm/yyyy", "iso": "yyyy-mm-dd"}


def in_words(day: date) -> str:
    """A day as messages and letters write it: 3 Feb 2026.

    Parameters
    ----------
    day : any day.

    Returns
    -------
    Day without a leading zero, short month, year of four digits.
    """
    return f"{day:%-d %b %Y}"


def short_day(day: date, today: date) -> str:
    """A day where there is little room: 3 Feb; its year is left out in the current year only.

    Parameters
    ----------
    day : any day.
    today : the day it is read.

    Returns
    -------
    Day and short month, and the year outside that of today.
    """
    return f"{day:%-d %b}" if day.year == today.year else in_words(day)


def short_weekday(day: date, today: date) -> str:
    """The same behind its weekday: Tue 3 Feb.

    Parameters
    ----------
    day : any day.
    today : the day it is read.

    Returns
    -------
    Short weekday and ``short_day``.
    """
    return f"{day:%a} {short_day(day, today)}"


def long_day(day: date, today: date) -> str:
    """A day as headings write it: Tuesday 3 February.

    Parameters
    ----------
    day : any day.
    today : the day it is read.

    Returns
    -------
    Weekday, day and month, and the year outside that of today.
    """
    return f"{day:%A %-d %B}" if day.year == today.year else f"{day:%A %-d %B %Y}"


def clock(at: time | datetime, *, is_12h: bool = False) -> str:
    """An hour as every page writes it: 14:05, or 2:05 pm; without a leading zero.

    Parameters
    ----------
    at : time of the day, or an instant already in the site's own time.
    is_12h : of 12 hours; twelve exactly is "12:00 noon" or "12:00 midnight", since 12 am and 12 pm
        are read either way (NIST, "Times of Day FAQs").

    Returns
    -------
    Hours and minutes.
    """
    if not is_12h:
        return f"{at:%-H:%M}"
    if at.minute == 0 and at.hour % 12 == 0:
        return "12:00 noon" if at.hour else "12:00 midnight"
    return f"{at:%-I:%M} {'am' if at.hour < 12 else 'pm'}"


def numeric_day(day: date, order: str) -> str:
    """A day as a box shows it, in figures.

    Parameters
    ----------
    day : any day.
    order : "mdy", "dmy", or "iso" with the year first.

    Returns
    -------
    11/26/2026, 26/11/2026 or 2026-11-26.
    """
    return day.strftime(FIGURES[order])
