"""Small numbers: a cell of few people, and the cell that would give it away, are not told.

Who may see names sees every count. Others, and every export, lose cells of 1 to 10 people with
their partner: the smallest of the others, without which the missing one is a subtraction. Eleven
is the least number told (common practice, no source).
"""

from collections.abc import Sequence

LEAST = 11


def told(counts: Sequence[int]) -> list[bool]:
    """Which cells of one breakdown may be told beside their total.

    Parameters
    ----------
    counts : people in each cell; a person is in one of them. [people], 0 or more

    Returns
    -------
    For each cell, whether it may be told. Nobody is told as nobody, unless that is needed to hide
    somebody.
    """
    found = [n == 0 or n >= LEAST for n in counts]
    hidden = [place for place, is_told in enumerate(found) if not is_told]
    if not hidden:
        return found
    rest = sorted((counts[place], place) for place in range(len(counts)) if found[place])
    rest.sort(key=lambda cell: (cell[0] == 0, cell[0]))  # somebody rather than nobody
    while rest and (len(hidden) < 2 or sum(counts[place] for place in hidden) < LEAST):
        _, place = rest.pop(0)
        found[place] = False
        hidden.append(place)
    return found


def may_tell_share(numerator: int, denominator: int) -> bool:
    """Whether a share may be told: neither those who are in it nor the others are few.

    Parameters
    ----------
    numerator : people who are. [people], 0 to denominator
    denominator : of how many. [people]

    Returns
    -------
    False when either side, or the whole, is of 1 to 10 people.
    """
    return all(n == 0 or n >= LEAST for n in (numerator, denominator - numerator, denominator))
