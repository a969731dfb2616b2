"""Median and quartiles of whole days, from how many people had each."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import accumulate
from math import floor

from patients.calc.limits import OutOfRange


@dataclass(frozen=True)
class Spread:
    """Half of the people lie between the quartiles. [days]"""

    n: int
    lower: float
    median: float
    upper: float


def quantile(counts: Mapping[int, int], share: float) -> float | None:
    """The value below which a share of people lies, between two values as far as it reaches.

    Parameters
    ----------
    counts : people by value, such as days waited. [people]
    share : the share wanted. [1], 0 to 1

    Returns
    -------
    The quantile in the unit of the values; None for nobody.

    Raises
    ------
    OutOfRange : a share outside 0 to 1.

    References
    ----------
    .. [1] R. J. Hyndman, Y. Fan, "Sample quantiles in statistical packages," Am. Stat., vol. 50,
       pp. 361-365, 1996: definition 7.
    """
    if not 0 <= share <= 1:
        raise OutOfRange("Share", share, 0, 1)
    n = sum(counts.values())
    if not n:
        return None
    place = (n - 1) * share
    below = _value_at(counts, floor(place))
    above = _value_at(counts, min(n - 1, floor(place) + 1))
    return below + (place - floor(place)) * (above - below)


def _value_at(counts: Mapping[int, int], place: int) -> int:
    """The value of the person at a place, the lowest being 0."""
    values = sorted(counts)
    upto = accumulate(counts[value] for value in values)
    return next(v for v, seen in zip(values, upto, strict=True) if seen > place)


def spread_of(counts: Mapping[int, int]) -> Spread | None:
    """Median and quartiles (definition 7 of Hyndman and Fan, doi:10.2307/2684934).

    Parameters
    ----------
    counts : people by value. [people]

    Returns
    -------
    The spread; None for nobody.
    """
    low, middle, high = (quantile(counts, share) for share in (0.25, 0.5, 0.75))
    if low is None or middle is None or high is None:
        return None
    return Spread(sum(counts.values()), low, middle, high)


def dots(counts: Mapping[int, int], n: int = 20) -> list[float]:
    """As many dots as wanted, each standing for the same share of the people.

    Parameters
    ----------
    counts : people by value. [people]
    n : how many dots. [1], 1 or more

    Returns
    -------
    The middle of each share, the lowest first; empty for fewer people than dots, in which a dot
    would be a person (project choice).
    """
    if sum(counts.values()) < n:
        return []
    found = [quantile(counts, (place + 0.5) / n) for place in range(n)]
    return [value for value in found if value is not None]
