"""How often something happens by hours: a rate with its interval, also when it never happened."""

from dataclasses import dataclass
from math import exp, lgamma, log, sqrt

from patients.calc.limits import OutOfRange
from reports.calc.tails import Z_975

EXACT_TO = 200  # events; beyond, the approximation is right to four digits
PER = 1000


@dataclass(frozen=True)
class Rate:
    """Events per 1,000 hours with the exact 95 % interval of a count."""

    n: int
    hours: float

    @property
    def per_1000(self) -> float | None:
        """Events per 1,000 hours; None without hours."""
        return PER * self.n / self.hours if self.hours else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """95 % interval per 1,000 hours; None without hours."""
        if not self.hours:
            return None
        low, high = count_interval(self.n)
        return PER * low / self.hours, PER * high / self.hours


def count_interval(n: int) -> tuple[float, float]:
    """95 % interval of the expected number, from the number counted [1]_ [2]_.

    Parameters
    ----------
    n : events counted. [events], 0 or more

    Returns
    -------
    Lower and upper limit; the lower is 0 when nothing was counted. [events]

    Raises
    ------
    OutOfRange : a number below 0.

    References
    ----------
    .. [1] F. Garwood, "Fiducial limits for the Poisson distribution," Biometrika, vol. 28,
       pp. 437-442, 1936.
    .. [2] N. E. Breslow, N. E. Day, "Statistical Methods in Cancer Research," vol. 2, 1987: Byar's
       approximation, here beyond 200 events.
    """
    if n < 0:
        raise OutOfRange("Events", n, 0, 10_000_000)
    if n > EXACT_TO:
        return _byar(n, -Z_975), _byar(n + 1, Z_975)
    # At the lower limit n or more happen in 2.5 % of cases, at the upper n or fewer.
    low = _solve(n - 1, 0.975) if n else 0.0
    return low, _solve(n, 0.025)


def _byar(n: int, z: float) -> float:
    return n * (1 - 1 / (9 * n) + z / (3 * sqrt(n))) ** 3


def _solve(n: int, wanted: float) -> float:
    """The expected number at which n or fewer happen with this probability."""
    low, high = 0.0, 3.0 * n + 20
    for _ in range(80):
        middle = (low + high) / 2
        if _at_most(n, middle) > wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _at_most(n: int, expected: float) -> float:
    return sum(exp(k * log(expected) - expected - lgamma(k + 1)) for k in range(n + 1))
