"""Given and family name from one cell.

How a name is parted is a project choice; where words alone do not tell, the file's order is asked.
"""

import re

_PARTICLES = {
    "van", "von", "de", "der", "den", "del", "la", "las", "los", "da", "dos", "di", "du", "ter",
    "ten", "y", "al", "el", "bin", "ibn", "le", "st", "st.",
}  # fmt: skip


# Behind a name, and no part of it that tells one family from another.
_TITLES = re.compile(r"[\s,]+(?:md|m\.d\.|phd|ph\.d\.|do|rn|dds|esq)\.?$", re.IGNORECASE)
_SUFFIX = re.compile(r"[\s,]+((?:jr|sr|junior|senior)\.?|II|III|IV)$", re.IGNORECASE)


def needs_order(name: str) -> bool:
    """Whether only the order of words tells given from family name.

    Parameters
    ----------
    name : the whole name.

    Returns
    -------
    False for "Family, Given", for one word, and where one part alone stands in capitals.
    """
    bare, _ = _without_suffix(name)
    return "," not in bare and len(bare.split()) > 1 and _capitals(bare.split()) is None


def split_name(name: str, order: str) -> tuple[str, str]:
    """Given and family name.

    Parameters
    ----------
    name : "Family, Given", "FAMILY Given", "Given FAMILY", or words in the order of the file.
    order : "given-first", "two-last" or "family-first"; "" while nobody has said.

    Returns
    -------
    Given name, family name; a single word is the family name; both "" without an order that is
    needed.
    """
    bare, suffix = _without_suffix(name)
    given, family = _parted(bare, order)
    return given, f"{family} {suffix}".strip() if family else family


def _without_suffix(name: str) -> tuple[str, str]:
    """The name without a degree, and its suffix such as "Jr."; of two letters only in capitals."""
    bare = _TITLES.sub("", name) if len(name.split()) > 2 else name
    match = _SUFFIX.search(bare)
    if match is None or not bare[: match.start()].strip(" ,"):
        return bare, ""
    suffix = match[1]
    if suffix.upper() in {"II", "III", "IV"} and suffix != suffix.upper():
        return bare, ""
    return bare[: match.start()].rstrip(" ,"), suffix


def _parted(name: str, order: str) -> tuple[str, str]:
    if "," in name:
        family, given = name.split(",", 1)
        return given.strip(" ,"), family.strip()
    words = name.split()
    if len(words) < 2:
        return "", name.strip()
    if parted := _capitals(words):
        return parted
    if order == "family-first":
        n = next((n for n, w in enumerate(words, 1) if w.lower() not in _PARTICLES), 1)
        return " ".join(words[n:]), " ".join(words[:n])
    if not order:
        return "", ""
    n = max(1, len(words) - (2 if order == "two-last" else 1))
    while n > 1 and words[n - 1].lower() in _PARTICLES:
        n -= 1
    return " ".join(words[:n]), " ".join(words[n:])


def _capitals(words: list[str]) -> tuple[str, str] | None:
    """The one run of words in capitals, at either end, is the family name."""
    is_loud = [w.isupper() and sum(c.isalpha() for c in w) >= 3 for w in words]
    n = sum(is_loud)
    if not 0 < n < len(words):
        return None
    if all(is_loud[:n]):
        return " ".join(words[n:]), " ".join(words[:n])
    if all(is_loud[-n:]):
        return " ".join(words[:-n]), " ".join(words[-n:])
    return None
