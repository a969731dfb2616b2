"""How much a group changed: mean paired change, its interval, its size; error of repeated tests.

References
----------
Student, "The probable error of a mean," Biometrika, vol. 6, pp. 1-25, 1908. Size of an effect:
L. E. Kazis, J. J. Anderson, R. F. Meenan, Med. Care, vol. 27, suppl. 3, pp. S178-S189, 1989 (change
over the spread at baseline); M. H. Liang, A. H. Fossel, M. G. Larson, Med. Care, vol. 28,
pp. 632-642, 1990 (change over the spread of changes). Error: J. P. Weir, J. Strength Cond. Res.,
vol. 19, pp. 231-240, 2005.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, stdev

from patients.calc.limits import NotScorable
from reports.calc.tails import Z_975, t_975


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
    if not pairs:
        return None
    changes = [later - earlier for earlier, later in pairs]
    mean = fmean(changes)
    if len(pairs) == 1:
        return PairedChange(1, mean, None, None, None, None)
    spread, at_first = stdev(changes), stdev([earlier for earlier, _ in pairs])
    half = t_975(len(pairs) - 1) * spread / sqrt(len(pairs))
    return PairedChange(
        len(pairs),
        mean,
        mean - half,
        mean + half,
        mean / at_first if at_first else None,
        mean / spread if spread else None,
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
    if len(repeats) < 2:
        raise NotScorable("An error of measuring needs two people tested twice.")
    differences = [second - first for first, second in repeats]
    sem = stdev(differences) / sqrt(2)
    return RepeatError(len(repeats), sem, Z_975 * sqrt(2) * sem, fmean(differences))
