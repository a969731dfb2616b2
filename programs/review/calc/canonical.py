"""The very text that a signature stands for, and its digest.

The text, form 1, is written so that the same plan always gives the same bytes and two plans that
differ by a word never do:

- its first line is ``treatment plan, text 1``;
- then one line for each line of the plan, in the plan's order: its key, a colon, a space, its text;
- a further line inside a text begins with two spaces, which no key does;
- a line without a text is its key and the colon;
- characters are in Unicode normal form C and lines end with a line feed; spaces at the end of a
  line of a text and empty lines at its end are left out; the whole is UTF-8.

The form of the text is a project choice. The digest is SHA-256 of these bytes, in hexadecimal
(FIPS 180-4). Headings are no part of the
text, so that a better word on the page breaks no signature. Which lines a plan has is said in
``programs/review/document.py``.
"""

import hashlib
import unicodedata
from collections.abc import Iterable

from programs.review.calc.differences import Row

FIRST_LINE = "treatment plan, text 1"


def text_of(rows: Iterable[Row]) -> str:
    """The text of a plan that is signed (this module's own form, a project choice).

    Parameters
    ----------
    rows : lines of the plan, each key once.

    Returns
    -------
    The text, form 1.

    Raises
    ------
    ValueError : a key that could be taken for the text of another line, or stands there twice.
    """
    lines, known = [FIRST_LINE], set()
    for row in rows:
        if not row.key or row.key != row.key.strip() or set(row.key) & set(":\r\n"):
            raise ValueError(f"no key of a plan: {row.key!r}")
        if row.key in known:
            raise ValueError(f"twice in the plan: {row.key}")
        known.add(row.key)
        parts = [part.rstrip() for part in _plain(row.text).split("\n")]
        while parts and not parts[-1]:
            parts.pop()
        first, *more = parts or [""]
        lines.append(f"{row.key}: {first}".rstrip())
        lines += [f"  {part}" for part in more]
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    """One kind of line end, one form of each character."""
    return unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))


def digest_of(rows: Iterable[Row]) -> str:
    """The digest of a plan's text.

    Parameters
    ----------
    rows : lines of the plan.

    Returns
    -------
    SHA-256 of the text, 64 hexadecimal digits.

    Raises
    ------
    ValueError : see ``text_of``.
    """
    return hashlib.sha256(text_of(rows).encode()).hexdigest()
