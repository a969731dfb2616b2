"""A day in words (the form is a project choice)."""

from datetime import date


def in_words(day: date) -> str:
    """A day as messages and pages write it: 3 Feb 2026.

    Parameters
    ----------
    day : any day.

    Returns
    -------
    Day without a leading zero, short month, year of four digits.
    """
    return f"{day:%-d %b %Y}"
