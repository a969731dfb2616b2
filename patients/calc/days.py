"""A day and an hour in words (the forms are a project choice)."""

from datetime import date, datetime, time


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


def clock(at: time | datetime) -> str:
    """An hour as every page writes it: 9:05, of 24 hours and without a leading zero.

    Parameters
    ----------
    at : time of the day, or an instant already in the site's own time.

    Returns
    -------
    Hours and minutes.
    """
    return f"{at:%-H:%M}"
