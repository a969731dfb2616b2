"""A share with its uncertainty."""

from dataclasses import dataclass
from math import sqrt

from patients.calc.limits import NotScorable, OutOfRange

Z_95 = 1.959963984540054  # 97.5th percentile of the standard normal distribution


@dataclass(frozen=True)
class Proportion:
    numerator: int
    denominator: int

    def __post_init__(self) -> None:
        if not 0 <= self.numerator <= self.denominator:
            raise OutOfRange("Numerator", self.numerator, 0, self.denominator)

    @property
    def share(self) -> float | None:
        """The share, or None when nobody is in the denominator."""
        return self.numerator / self.denominator if self.denominator else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """95 % Wilson interval, or None when nobody is in the denominator."""
        return wilson(self.numerator, self.denominator) if self.denominator else None

    @property
    def percent(self) -> float | None:
        """The share in per cent [%], or None when nobody is in the denominator."""
        return None if self.share is None else 100 * self.share

    @property
    def percent_interval(self) -> tuple[float, float] | None:
        """95 % Wilson interval in per cent [%], or None when nobody is in the denominator."""
        return None if self.interval is None else (100 * self.interval[0], 100 * self.interval[1])


def wilson(successes: int, trials: int) -> tuple[float, float]:
    """95 % score interval of a proportion [1]_; keeps its meaning at 0 and at all.

    Parameters
    ----------
    successes : how many. [people], 0 to trials
    trials : of how many. [people], at least 1

    Returns
    -------
    Lower and upper limit. [1], 0 to 1

    Raises
    ------
    NotScorable : no trials.
    OutOfRange : successes outside 0 to trials.

    References
    ----------
    .. [1] E. B. Wilson, "Probable inference, the law of succession, and statistical inference,"
       J. Am. Stat. Assoc., vol. 22, pp. 209-212, 1927.
    """
    if trials < 1:
        raise NotScorable("A share needs at least one person.")
    if not 0 <= successes <= trials:
        raise OutOfRange("Successes", successes, 0, trials)
    p, z2 = successes / trials, Z_95**2
    centre = p + z2 / (2 * trials)
    spread = Z_95 * sqrt(p * (1 - p) / trials + z2 / (4 * trials**2))
    scale = 1 + z2 / trials
    return max(0.0, (centre - spread) / scale), min(1.0, (centre + spread) / scale)
