"""Short words beside a name: how they look, their sign, what they say; never by colour alone.

The looks and signs are a project choice.
"""

from datetime import date, timedelta
from typing import NamedTuple

from patients.calc.days import short_weekday


class Word(NamedTuple):
    """A short word: its look as the style sheet knows it, its sign, what it says."""

    look: str
    sign: str
    text: str


SIGNS = {"stop": "■", "hold": "◆", "caution": "▲", "note": "●", "fine": "◆", "plain": ""}


def word(look: str, text: str) -> Word:
    """A word with the sign of its look.

    Parameters
    ----------
    look : one of ``SIGNS``.
    text : what it says.

    Returns
    -------
    The word.

    Raises
    ------
    KeyError : an unknown look.
    """
    return Word(look, SIGNS[look], text)


def due_word(day: date, days: int) -> Word:
    """When something is due, told from today.

    Parameters
    ----------
    day : the day it is due.
    days : days until then, negative when it is over.

    Returns
    -------
    Overdue with its day, today, tomorrow, or in how many days.
    """
    told = short_weekday(day, day - timedelta(days=days))
    if days < 0:
        return word("hold", f"{told}, overdue")
    if days <= 1:
        return word("caution", "tomorrow" if days else "today")
    return word("plain", f"in {days} days, {told}")
