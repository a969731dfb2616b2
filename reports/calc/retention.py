"""Who is still coming: the share not yet lost by the days since the first session.

Somebody is lost on the day the course is ended, unless the program was completed. Whoever is still
on the way, or completed, counts as long as they are followed: until today. What is an event is a
project choice.

References
----------
E. L. Kaplan, P. Meier, "Nonparametric estimation from incomplete observations," J. Am. Stat.
Assoc., vol. 53, pp. 457-481, 1958. Interval: Greenwood's variance on the log-minus-log scale, J. D.
Kalbfleisch, R. L. Prentice, "The Statistical Analysis of Failure Time Data," 1980. Incidence beside
competing reasons: O. O. Aalen, S. Johansen, Scand. J. Stat., vol. 5, pp. 141-150, 1978. Log-rank:
N. Mantel, Cancer Chemother. Rep., vol. 50, pp. 163-170, 1966.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from patients.calc.limits import NotScorable, OutOfRange
from reports.calc.tails import Z_975, chi_square_tail


@dataclass(frozen=True)
class Stay:
    """People who were followed as long and left for the same reason.

    Attributes
    ----------
    days : from the first session to leaving, or to the last day they are followed. [days]
    reason : why they left; "" while they are not lost.
    n : how many of them. [people]
    """

    days: int
    reason: str = ""
    n: int = 1

    def __post_init__(self) -> None:
        if self.days < 0:
            raise OutOfRange("Days since the first session", self.days, 0, 40_000, "days")


@dataclass(frozen=True)
class Level:
    """The curve from one day on, until the next level.

    Attributes
    ----------
    day : the first day of it. [days]
    at_risk : people still followed when it begins. [people]
    lost : of these, lost on this day. [people]
    share, low, high : not yet lost, with its 95 % interval; no interval once nobody is left. [1]
    """

    day: int
    at_risk: int
    lost: int
    share: float
    low: float | None
    high: float | None


def kaplan_meier(stays: Iterable[Stay]) -> list[Level]:
    """The share not yet lost.

    Parameters
    ----------
    stays : people, in any order.

    Returns
    -------
    A level at day 0 and one for each day on which somebody was lost; empty for nobody.
    """
    stays = list(stays)
    at_risk = sum(stay.n for stay in stays)
    if not at_risk:
        return []
    gone, lost = _by_day(stays)
    found = [Level(0, at_risk, 0, 1.0, 1.0, 1.0)]
    share, variance = 1.0, 0.0
    for day in sorted(gone):
        if n := lost[day]:
            share *= 1 - n / at_risk
            variance += n / (at_risk * (at_risk - n)) if at_risk > n else 0.0
            found.append(Level(day, at_risk, n, share, *_interval(share, variance)))
        at_risk -= gone[day]
    return found


def _by_day(stays: Sequence[Stay]) -> tuple[dict[int, int], dict[int, int]]:
    """How many are not followed after each day, and how many of them were lost."""
    gone: dict[int, int] = defaultdict(int)
    lost: dict[int, int] = defaultdict(int)
    for stay in stays:
        gone[stay.days] += stay.n
        lost[stay.days] += stay.n if stay.reason else 0
    return gone, lost


def _interval(share: float, variance: float) -> tuple[float | None, float | None]:
    if share <= 0:
        return None, None
    middle = log(-log(share))
    spread = Z_975 * sqrt(variance) / abs(log(share))
    return exp(-exp(middle + spread)), exp(-exp(middle - spread))


def level_on(levels: Sequence[Level], day: int) -> Level | None:
    """The level that holds on a day.

    Parameters
    ----------
    levels : as ``kaplan_meier`` returns them.
    day : days since the first session. [days], 0 or more

    Returns
    -------
    The last level that began by then; None for nobody.
    """
    reached = [level for level in levels if level.day <= day]
    return reached[-1] if reached else None


def followed(stays: Iterable[Stay], day: int) -> int:
    """How many are followed at least until a day.

    Parameters
    ----------
    stays : people, in any order.
    day : days since the first session. [days], 0 or more

    Returns
    -------
    People followed that long and not lost before. [people]
    """
    return sum(stay.n for stay in stays if stay.days >= day)


def incidence(stays: Iterable[Stay], day: int) -> dict[str, float]:
    """Share lost by a day for each reason; one reason takes people away from the others.

    Parameters
    ----------
    stays : people, in any order.
    day : days since the first session. [days], 0 or more

    Returns
    -------
    Share by reason [1]; together one minus the share not yet lost.
    """
    stays = list(stays)
    at_risk, share = sum(stay.n for stay in stays), 1.0
    found: dict[str, float] = defaultdict(float)
    days: dict[int, list[Stay]] = defaultdict(list)
    for stay in stays:
        days[stay.days].append(stay)
    for on in sorted(days):
        if on > day:
            break
        lost = 0
        for stay in days[on]:
            if stay.reason:
                found[stay.reason] += share * stay.n / at_risk
                lost += stay.n
        share *= 1 - lost / at_risk
        at_risk -= sum(stay.n for stay in days[on])
    return dict(found)


@dataclass(frozen=True)
class LogRank:
    """Whether the curves of groups differ by more than chance makes likely."""

    chi_square: float
    degrees: int
    p: float


def log_rank(groups: Mapping[str, Sequence[Stay]]) -> LogRank:
    """Log-rank test of two groups or more.

    Parameters
    ----------
    groups : people by group; groups of nobody are left out.

    Returns
    -------
    The statistic, its degrees of freedom and its probability. [1]

    Raises
    ------
    NotScorable : fewer than two groups have people, or nobody was lost.
    """
    people = [list(stays) for stays in groups.values() if sum(s.n for s in stays)]
    if len(people) < 2:
        raise NotScorable("Comparing needs two groups with people.")
    tables = [_by_day(stays) for stays in people]
    at_risk = np.array([sum(s.n for s in stays) for stays in people], dtype=float)
    more = np.zeros(len(people))  # lost beyond what was expected
    spread = np.zeros((len(people), len(people)))
    for day in sorted({day for gone, _ in tables for day in gone}):
        lost = np.array([by_day[day] for _, by_day in tables], dtype=float)
        total, d = at_risk.sum(), lost.sum()
        if d:
            share = at_risk / total
            more += lost - d * share
            factor = d * (total - d) / (total - 1) if total > 1 else 0.0
            spread += factor * (np.diag(share) - np.outer(share, share))
        at_risk -= np.array([gone[day] for gone, _ in tables], dtype=float)
    if not spread.any():
        raise NotScorable("Nobody was lost while the groups could be compared.")
    statistic = float(more @ np.linalg.pinv(spread, hermitian=True) @ more)
    degrees = len(people) - 1
    return LogRank(statistic, degrees, chi_square_tail(max(0.0, statistic), degrees))
