"""How much a group changed: mean paired change, its interval, its size; error of repeated tests.

References
----------
Student, "The probable error of a mean," Biometrika, vol. 6, pp. 1-25, 1908. Size of an effect:
L. E. Kazis, J. J. Anderson, R. F. Meenan, Med. Care, vol. 27, suppl. 3, pp. S178-S189, 1989 (change
over the spread at baseline); M. H. Liang, A. H. Fossel, M. G. Larson, Med. Care, vol. 28,
pp. 632-642, 1990 (change over the spread of changes). Error: J. P. Weir, J. Strength Cond. Res.,
vol. 19, pp. 231-240, 2005.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt

from patients.calc.limits import NotScorable
from reports.calc.tails import Z_975, t_975

NO_SPREAD = 1e-12  # of the mean square: what is left of alike values is rounding


@dataclass(frozen=True)
class Sums:
    """Numbers as their sums, which add up over many people.

    Attributes
    ----------
    n : how many. [1]
    total, squares : sum of them, and of their squares. [unit, and unit squared]
    """

    n: int
    total: float
    squares: float

    def __add__(self, other: "Sums") -> "Sums":
        return Sums(self.n + other.n, self.total + other.total, self.squares + other.squares)

    @property
    def mean(self) -> float:
        """Arithmetic mean, of one number or more. [unit]"""
        return self.total / self.n

    @property
    def spread(self) -> float:
        """Standard deviation with n - 1, of two numbers or more; 0 where all are alike. [unit]"""
        beyond = self.squares - self.total**2 / self.n
        return sqrt(beyond / (self.n - 1)) if beyond > NO_SPREAD * self.squares else 0.0


def sums_of(numbers: Iterable[float]) -> Sums:
    """The sums of some numbers.

    Parameters
    ----------
    numbers : any numbers. [unit]

    Returns
    -------
    Their sums; all 0 for none.
    """
    held = list(numbers)
    return Sums(len(held), sum(held), sum(one * one for one in held))


@dataclass(frozen=True)
class PairedChange:
    """What people with both results changed by; units are those of the measure.

    Attributes
    ----------
    n : people with both results. [people]
    mean : mean change, later minus earlier.
    low, high : 95 % interval of the mean; None for one person.
    effect : mean over the spread at baseline; None without a spread. [1]
    response : mean over the spread of the changes; None without a spread. [1]
    """

    n: int
    mean: float
    low: float | None
    high: float | None
    effect: float | None
    response: float | None


def paired_change(pairs: Sequence[tuple[float, float]]) -> PairedChange | None:
    """Mean change of people measured twice.

    Parameters
    ----------
    pairs : earlier and later result of each person. [unit of the measure]

    Returns
    -------
    The change; None for nobody (References of the module: Student, Kazis, Liang).
    """
    first = sums_of(earlier for earlier, _ in pairs)
    return change_from(first, sums_of(later - earlier for earlier, later in pairs))


def change_from(first: Sums, change: Sums) -> PairedChange | None:
    """Mean change of people measured twice, from sums.

    Parameters
    ----------
    first, change : earlier results, and later minus earlier, of the same people. [the unit]

    Returns
    -------
    The change; None for nobody (References of the module: Student, Kazis, Liang).
    """
    n = change.n
    if n == 0:
        return None
    if n == 1:
        return PairedChange(1, change.mean, None, None, None, None)
    half = t_975(n - 1) * change.spread / sqrt(n)
    return PairedChange(
        n,
        change.mean,
        change.mean - half,
        change.mean + half,
        change.mean / first.spread if first.spread else None,
        change.mean / change.spread if change.spread else None,
    )


@dataclass(frozen=True)
class RepeatError:
    """How far two results of the same person lie apart by measuring alone.

    Attributes
    ----------
    n : people tested twice. [people]
    sem : standard error of one measurement. [unit of the measure]
    mdc95 : smallest difference beyond error, 95 %. [unit of the measure]
    shift : mean of second minus first: learning, or tiring. [unit of the measure]
    """

    n: int
    sem: float
    mdc95: float
    shift: float


def repeat_error(repeats: Sequence[tuple[float, float]]) -> RepeatError:
    """A site's own measurement error from tests repeated without a change between.

    Parameters
    ----------
    repeats : first and second result of each person. [unit of the measure]

    Returns
    -------
    Standard error of measurement and smallest detectable change.

    Raises
    ------
    NotScorable : fewer than two people.
    """
    return error_from(sums_of(second - first for first, second in repeats))


def error_from(differences: Sums) -> RepeatError:
    """A site's own measurement error from the sums of second minus first.

    Parameters
    ----------
    differences : second minus first result of each person. [unit of the measure]

    Returns
    -------
    Standard error of measurement and smallest detectable change.

    Raises
    ------
    NotScorable : fewer than two people.
    """
    if differences.n < 2:
        raise NotScorable("An error of measuring needs two people tested twice.")
    sem = differences.spread / sqrt(2)
    return RepeatError(differences.n, sem, Z_975 * sqrt(2) * sem, differences.mean)
