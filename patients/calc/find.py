"""What somebody is found by: plain words of names, numbers and phones, and typed days.

Letters are taken apart as Unicode does (UAX #15, NFKD); the rest is a project choice.
"""

import re
import unicodedata
from datetime import date

# Letters that Unicode does not take apart into a letter and a mark.
STROKES = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe"})
LONGEST = 60  # letters and digits of a key: nobody types more to find somebody
FEWEST_DIGITS = 3  # a shorter end of a phone number finds half the clinic
MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_DAY = re.compile(
    r"\b(?:(?P<iso>\d{4}-\d{1,2}-\d{1,2})|(?P<numbers>\d{1,2}[./]\d{1,2}[./]\d{4})"
    r"|(?P<words>\d{1,2}\s+[a-z]{3,9}\s+\d{4}|[a-z]{3,9}\s+\d{1,2},?\s+\d{4}))\b",
    re.IGNORECASE,
)


def plain_words(text: str) -> list[str]:
    """A text as words of small letters and digits, without accents and punctuation.

    Parameters
    ----------
    text : a name, a number, or what somebody typed.

    Returns
    -------
    The words in their order; what stands on both sides of a hyphen, an apostrophe or a space
    counts as two.
    """
    bare = unicodedata.normalize("NFKD", text.casefold().translate(STROKES))
    kept = "".join(c for c in bare if not unicodedata.combining(c))
    return re.findall(r"[^\W_]+", kept)


def keys_of(given_name: str, family_name: str, record_number: str, phone: str) -> frozenset[str]:
    """Everything at whose beginning somebody is found.

    Parameters
    ----------
    given_name, family_name : as written.
    record_number, phone : as written, "" when unknown.

    Returns
    -------
    Of each the rest from each of its words on, run together: O'Neill is found by oneill and by
    neill, +1 208 555-2010 by 12085552010 and by each end of it that is not too short. A long one
    is cut after ``LONGEST`` letters.
    """
    found = {end for text in (given_name, family_name, record_number) for end in _ends(text)}
    found |= {end for end in _ends(phone) if len(end) >= FEWEST_DIGITS}
    return frozenset(found)


def _ends(text: str) -> list[str]:
    words = plain_words(text)
    return ["".join(words[n:])[:LONGEST] for n in range(len(words))]


def typed_words(typed: str) -> list[str]:
    """What somebody typed as words that begin keys.

    Parameters
    ----------
    typed : names and numbers in any order.

    Returns
    -------
    What stands between spaces, run together; groups of digits beside each other are one number,
    however a phone is written.
    """
    words = ["".join(plain_words(part)) for part in typed.split()]
    found: list[str] = []
    for word in filter(None, words):
        if word.isdecimal() and found and found[-1].isdecimal():
            found[-1] += word
        else:
            found.append(word)
    return [word[:LONGEST] for word in found]


def take_days(typed: str) -> tuple[frozenset[date], str]:
    """The day somebody typed among other words, and the words without it.

    Parameters
    ----------
    typed : what was typed to find somebody.

    Returns
    -------
    Every day it can mean, since 3/2/1958 is read in both orders, none when there is no whole date;
    and the rest of the words.
    """
    found = _DAY.search(typed)
    days = _days(found) if found else frozenset()
    if found is None or not days:
        return frozenset(), typed
    return days, f"{typed[: found.start()]} {typed[found.end() :]}"


def _days(found: re.Match[str]) -> frozenset[date]:
    if found["words"]:
        parts = plain_words(found["words"])
        month = next(part for part in parts if part.isalpha())
        day, year = (int(part) for part in parts if part.isdigit())
        known = month[:3] in MONTHS
        return _real((year, MONTHS.index(month[:3]) + 1, day)) if known else frozenset()
    a, b, c = (int(part) for part in re.split("[-./]", found[0]))
    if found["iso"]:
        return _real((a, b, c))
    return _real((c, a, b), (c, b, a)) if "/" in found[0] else _real((c, b, a))


def _real(*days: tuple[int, int, int]) -> frozenset[date]:
    found = set()
    for year, month, day in days:
        try:
            found.add(date(year, month, day))
        except ValueError:
            continue
    return frozenset(found)
