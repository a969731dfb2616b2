"""People who may be one: written with other letters, names swapped, or one digit off.

What counts as alike is a project choice; a look-alike is only ever asked about.
"""

import re
from datetime import date

from patients.calc.find import plain_words


def folded(name: str) -> str:
    """A name without accents, case and blanks; ü and ue are one, as are ö and oe, ä and ae.

    Parameters
    ----------
    name : as written.

    Returns
    -------
    Small letters and digits, possibly none.
    """
    bare = "".join(plain_words(name.casefold().replace("ß", "ss")))
    return re.sub(r"([aou])e", r"\1", bare)


def names_alike(a: tuple[str, str], b: tuple[str, str]) -> str:
    """How two names of people born on the same day resemble each other.

    Parameters
    ----------
    a, b : given and family name as written.

    Returns
    -------
    In words; "" where they do not.
    """
    given_a, family_a, given_b, family_b = map(folded, (*a, *b))
    if (given_a, family_a) == (given_b, family_b):
        return "the same name in other letters"
    if (given_a, family_a) == (family_b, given_b):
        return "given and family name swapped"
    if family_a == family_b and (one_apart(given_a, given_b) or _same_start(a[0], b[0])):
        return "the same family name and nearly the same given name"
    if given_a == given_b and one_apart(family_a, family_b):
        return "one letter of the family name differs"
    return ""


def _same_start(a: str, b: str) -> bool:
    """ "Mary" and "Mary Ann", and an initial for a name."""
    first, second = sorted((plain_words(a), plain_words(b)), key=len)
    if not first or not second:
        return False
    is_initial = len(first[0]) == 1 or len(second[0]) == 1
    if is_initial:
        return first[0][0] == second[0][0]
    return len(first) < len(second) and second[: len(first)] == first


def one_apart(a: str, b: str) -> bool:
    """Whether one letter put in, left out or changed makes one of the other.

    Parameters
    ----------
    a, b : words of at least three letters; shorter ones are never one apart.

    Returns
    -------
    True for one difference, False for none and for more.
    """
    if a == b or min(len(a), len(b)) < 3 or abs(len(a) - len(b)) > 1:
        return False
    n = next((n for n, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    if len(a) == len(b):
        return a[n + 1 :] == b[n + 1 :]
    short, long = sorted((a, b), key=len)
    return short[n:] == long[n + 1 :]


def days_alike(a: date, b: date) -> str:
    """How two birth dates under the same name resemble each other.

    Parameters
    ----------
    a, b : the days.

    Returns
    -------
    In words; "" where they do not, and where they are the same.
    """
    if (a.year, a.month, a.day) == (b.year, b.day, b.month) and a != b:
        return "day and month of the birth date swapped"
    digits = [x != y for x, y in zip(f"{a}", f"{b}", strict=True)]
    return "one digit of the birth date differs" if sum(digits) == 1 else ""
