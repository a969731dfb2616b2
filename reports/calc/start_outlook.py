"""How long until somebody referred today starts? A simulation of arrivals, seats and stays.

Every person needs ``per_week`` classes on different weekdays, each with a free seat, and keeps
those seats for a stay. People are booked first come, first served. With one class of c seats, one
session a week, Poisson arrivals and exponential stays this is the M/M/c queue, whose waiting time
is known (Erlang C); the tests hold the simulation to it. The model beyond that is a project choice;
the target of 21 days has its source in ``programs.enrolment.calc.start_clock``.

Chance is drawn first (``draw``), so that a second timetable can be asked about the same people.
Then all runs advance together, one person at a time (``start_outlook_seats``).
"""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from reports.calc.start_outlook_seats import Seats, SeatsOnClassDays

TARGET_DAYS = 21
RUNS = 1000
RESAMPLES = 1000


@dataclass(frozen=True)
class SimClass:
    """A class: its weekday and, for each seat, the day from which it is free (0 is today)."""

    weekday: int
    free_from: tuple[float, ...]
    key: int = 0  # by which ``with_seats`` finds it


@dataclass(frozen=True)
class Clinic:
    """What the clinic's own last months say; days count from today, day 0.

    Attributes
    ----------
    classes : the weekly timetable with the seats taken by people already booked.
    arrivals_per_day : referrals that will want a seat. [1/day]
    stays_days : observed lengths of stay, drawn with replacement. [days], 0 or more
    per_week : observed sessions a week, drawn with replacement.
    no_show_share : share of booked people who never come. [1]
    no_show_days : days until such a seat is given to somebody else. [days]
    preparing_days : days from referral until somebody can start at all. [days]
    ahead : for each person already waiting, days until they can start; 0 or less is now. [days]
    closed_days : days on which nothing is held.
    today_weekday : weekday of day 0 (Monday is 0).
    """

    classes: tuple[SimClass, ...]
    arrivals_per_day: float
    stays_days: tuple[float, ...]
    per_week: tuple[int, ...]
    no_show_share: float = 0.0
    no_show_days: float = 14.0
    preparing_days: float = 0.0
    ahead: tuple[float, ...] = ()
    closed_days: frozenset[int] = field(default_factory=frozenset)
    today_weekday: int = 0


@dataclass(frozen=True)
class People:
    """What chance decided, whatever the timetable: arrays of (people, runs), first come first.

    Attributes
    ----------
    came : day of the referral, infinite where a run has no such person. [days]
    ready : day from which they can start. [days]
    per_week : sessions a week; 0 where a run has no such person.
    keeps : how long they keep their seats. [days]
    n_ahead : how many of them wait already; the next one is referred today.
    """

    came: Any
    ready: Any
    per_week: Any
    keeps: Any
    n_ahead: int


@dataclass(frozen=True)
class Outlook:
    """Waits of a referral received today, and the share in time of the coming weeks' referrals.

    Intervals are the central 95 % of what 1,000 resamples of the runs give for a wait, and of what
    single runs give for the share.
    """

    median_days: float
    median_interval: tuple[float, float]
    p90_days: float
    p90_interval: tuple[float, float]
    share_today: float
    share_in_time: float | None  # None when no run has a referral
    share_interval: tuple[float, float]
    n_arrivals: float
    horizon_days: int
    runs: int


def simulate(
    clinic: Clinic, *, horizon_days: int = 84, runs: int = RUNS, seed: int = 36
) -> Outlook:
    """Waits and starts in time, from playing the coming weeks ``runs`` times.

    Parameters
    ----------
    clinic : what the clinic's own last months say.
    horizon_days : how far ahead referrals arrive. [days], 0 or more
    runs : how often the weeks are played. [runs], at least 1
    seed : start of the random numbers, 0 or more; the same seed gives the same outlook, and
        another timetable the same people.

    Returns
    -------
    The outlook: waits [days] and shares [1] with their intervals; ``share_in_time`` is None when
    no run has a referral.

    Raises
    ------
    ValueError : no stays or sessions a week to draw from, or no class at all.
    """
    rng = np.random.default_rng(seed)
    people = draw(clinic, horizon_days, runs, rng)
    today, later = play(clinic, people, on_class_days=True)
    return _outlook(today, later, horizon_days, rng)


def draw(clinic: Clinic, horizon_days: float, runs: int, rng: np.random.Generator) -> People:
    """Who comes, how often a week and how long, in every run.

    Parameters
    ----------
    clinic : what the clinic's own last months say; its timetable is not looked at.
    horizon_days : how far ahead referrals arrive. [days], 0 or more
    runs : how often the weeks are played. [runs], at least 1
    rng : source of the random numbers.

    Returns
    -------
    The people: those already waiting, the one referred today, then those still to come.

    Raises
    ------
    ValueError : no stays or sessions a week to draw from.
    """
    if not clinic.stays_days or not clinic.per_week:
        raise ValueError("Stays and sessions a week are needed.")
    n = rng.poisson(clinic.arrivals_per_day * horizon_days, runs)
    most = int(n.max(initial=0))
    later = rng.uniform(0, horizon_days, (runs, most))
    later[np.arange(most)[None, :] >= n[:, None]] = np.inf  # beyond this run's number
    later.sort(axis=1)
    waiting = np.maximum(0.0, np.sort(clinic.ahead))
    known = np.repeat([[*waiting, clinic.preparing_days]], runs, axis=0)
    came = np.concatenate([np.zeros_like(known), later], axis=1).T.copy()
    ready = np.concatenate([known, later + clinic.preparing_days], axis=1).T.copy()
    per_week = _drawn(np.asarray(clinic.per_week, np.int16), ready.shape, rng)
    stays = _drawn(np.asarray(clinic.stays_days, float), ready.shape, rng)
    shows = rng.random(ready.shape, np.float32) >= clinic.no_show_share
    keeps = np.where(shows, stays, np.minimum(stays, clinic.no_show_days))
    per_week[np.isinf(came)] = 0
    return People(came, ready, per_week, keeps, len(waiting))


def _drawn(values: Any, shape: tuple[int, ...], rng: np.random.Generator) -> Any:
    """Values drawn with replacement."""
    return values[rng.integers(0, len(values), shape, np.uint32)]


def play(clinic: Clinic, people: People, *, on_class_days: bool) -> tuple[Any, Any]:
    """Waits of a referral received today, and of later ones, in every run.

    Parameters
    ----------
    clinic : the clinic, whose timetable they are booked into.
    people : who comes.
    on_class_days : False makes time continuous and nothing ever closed, as in queueing theory.

    Returns
    -------
    Waits from today (one a run) and of later referrals (runs, arrivals) [days], NaN where a run
    has no such referral, ``NEVER`` or about that where no seat is found.

    Raises
    ------
    ValueError : no class at all.
    """
    if not clinic.classes:
        raise ValueError("A timetable is needed.")
    pools: dict[int, list[float]] = {}
    for one in clinic.classes:
        pools.setdefault(one.weekday, []).extend(one.free_from)
    shape, today, closed = people.ready.shape, clinic.today_weekday, clinic.closed_days
    seats = SeatsOnClassDays(pools, shape, today, closed) if on_class_days else Seats(pools, shape)
    starts = seats.book(people.ready, people.per_week, people.keeps)
    came = np.where(np.isinf(people.came), np.nan, people.came)
    waits = starts - came
    return waits[people.n_ahead], waits[people.n_ahead + 1 :].T


def _outlook(today: Any, later: Any, horizon: int, rng: np.random.Generator) -> Outlook:
    n = np.isfinite(later).sum(axis=1)
    in_time = (later <= TARGET_DAYS).sum(axis=1)  # NaN is not
    shares = in_time[n > 0] / n[n > 0] if n.any() else np.array([0.0])
    today = np.sort(today)
    return Outlook(
        float(np.median(today)),
        _middle(resampled(today, 0.5, RESAMPLES, rng)),
        float(np.quantile(today, 0.9)),
        _middle(resampled(today, 0.9, RESAMPLES, rng)),
        float((today <= TARGET_DAYS).mean()),
        float(in_time.sum() / n.sum()) if n.any() else None,
        _middle(shares),
        float(n.mean()),
        horizon,
        len(today),
    )


def resampled(ordered: Any, share: float, times: int, rng: np.random.Generator) -> Any:
    """A quantile of each of many resamples, without drawing the resamples.

    Parameters
    ----------
    ordered : the sample of n values, smallest first.
    share : which quantile. [1], 0 to 1
    times : how many resamples. [resamples], at least 1
    rng : source of the random numbers.

    Returns
    -------
    The quantile of each resample, of n values drawn with replacement, in the unit of the sample.

    Notes
    -----
    A resample is ``ordered[floor(n u)]`` for n uniform numbers u; its j-th smallest belongs to the
    j-th smallest u, which has the distribution Beta(j, n + 1 - j), and the next one lies above it
    like the smallest of the n - j others (as in any textbook of order statistics). So two numbers
    stand for n, and the distribution is the same; the tests hold it to the binomial one. Between
    two values the quantile is interpolated linearly, as by ``numpy.quantile``.
    """
    n = len(ordered)
    place = share * (n - 1)
    j = int(place) + 1
    u = rng.beta(j, n + 1 - j, times)
    low = _at(ordered, u)
    if j == n:
        return low
    above = u + (1 - u) * rng.beta(1, n - j, times)
    return low + (place + 1 - j) * (_at(ordered, above) - low)


def _at(ordered: Any, u: Any) -> Any:
    """The value a uniform number stands for; one that was rounded up to 1 is the last."""
    n = len(ordered)
    return ordered[np.minimum((n * u).astype(int), n - 1)]


def _middle(values: Any) -> tuple[float, float]:
    """The central 95 %."""
    low, high = np.quantile(values, [0.025, 0.975])
    return float(low), float(high)


def with_class(clinic: Clinic, weekday: int, seats: int) -> Clinic:
    """The same clinic with one more class, empty from today.

    Parameters
    ----------
    clinic : the clinic as it is.
    weekday : weekday of the new class, 0 (Monday) to 6.
    seats : its seats. [seats], at least 1

    Returns
    -------
    The clinic with the class; the one given stays as it is.
    """
    return replace(clinic, classes=(*clinic.classes, SimClass(weekday, (0.0,) * seats)))


def with_seats(clinic: Clinic, key: int, more: int) -> Clinic:
    """The same clinic with more seats in one class, empty from today.

    Parameters
    ----------
    clinic : the clinic as it is.
    key : of the class that is widened.
    more : how many seats are added. [seats], at least 1

    Returns
    -------
    The clinic with the wider class; the one given stays as it is.

    Raises
    ------
    ValueError : no class has this key.
    """
    if key not in {one.key for one in clinic.classes}:
        raise ValueError("A class that is held is needed.")
    wider = (
        replace(one, free_from=(*one.free_from, *(0.0,) * more)) if one.key == key else one
        for one in clinic.classes
    )
    return replace(clinic, classes=tuple(wider))
