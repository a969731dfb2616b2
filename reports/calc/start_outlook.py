"""How long until somebody referred today starts? A simulation of arrivals, seats and stays.

Every person needs ``per_week`` classes on different weekdays, each with a free seat, and keeps
those seats for a stay. People are booked first come, first served. With one class of c seats, one
session a week, Poisson arrivals and exponential stays this is the M/M/c queue, whose waiting time
is known (Erlang C); the tests hold the simulation to it. The model beyond that is a project choice;
the target of 21 days has its source in ``programs.enrolment.calc.start_clock``.

All runs advance together, one arrival at a time, as arrays; the work per arrival is a few array
operations over (runs, classes, seats).
"""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

TARGET_DAYS = 21
RUNS = 1000
NEVER = 1e9


@dataclass(frozen=True)
class SimClass:
    """A class: its weekday and, for each seat, the day from which it is free (0 is today)."""

    weekday: int
    free_from: tuple[float, ...]


@dataclass(frozen=True)
class Clinic:
    """What the clinic's own last months say; days count from today, day 0.

    Attributes
    ----------
    classes : the weekly timetable with the seats taken by people already booked.
    arrivals_per_day : referrals that will want a seat. [1/day]
    stays_days : observed lengths of stay, drawn with replacement. [days]
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
    seed : start of the random numbers, 0 or more; the same seed gives the same outlook.

    Returns
    -------
    The outlook: waits [days] and shares [1] with their intervals; ``share_in_time`` is None when
    no run has a referral.

    Raises
    ------
    ValueError : no stays or sessions a week to draw from, or no class at all.
    """
    rng = np.random.default_rng(seed)
    today, waits, n = play(clinic, horizon_days, runs, rng, on_class_days=True)
    return _outlook(today, waits, n, horizon_days, runs, rng)


def play(
    clinic: Clinic,
    horizon_days: float,
    runs: int,
    rng: np.random.Generator,
    *,
    on_class_days: bool,
) -> tuple[Any, Any, Any]:
    """Waits of a referral received today, and of later ones, in every run.

    Parameters
    ----------
    clinic : what the clinic's own last months say.
    horizon_days : how far ahead referrals arrive. [days], 0 or more
    runs : how often the weeks are played. [runs], at least 1
    rng : source of the random numbers.
    on_class_days : False makes time continuous and nothing ever closed, as in queueing theory.

    Returns
    -------
    Waits from today (one a run) and of later referrals (runs, arrivals) [days], NaN where a run
    has no such referral, ``NEVER`` where no seat is found; and how many later ones each run has.

    Raises
    ------
    ValueError : no stays or sessions a week to draw from, or no class at all.
    """
    if not clinic.classes or not clinic.stays_days or not clinic.per_week:
        raise ValueError("A timetable, stays and sessions a week are needed.")
    seats = (_SeatsOnClassDays if on_class_days else _Seats)(clinic, runs)
    for since in sorted(clinic.ahead):
        seats.admit(np.full(runs, max(0.0, since)), rng)
    today = seats.admit(np.full(runs, clinic.preparing_days), rng)
    n = rng.poisson(clinic.arrivals_per_day * horizon_days, runs)
    most = int(n.max(initial=0))
    arrivals = rng.uniform(0, horizon_days, (runs, most))
    arrivals[np.arange(most)[None, :] >= n[:, None]] = np.inf  # beyond this run's number
    arrivals.sort(axis=1)
    waits = np.full((runs, most), np.nan)
    for i in range(most):
        here = np.isfinite(arrivals[:, i])
        ready = np.where(here, arrivals[:, i], 0.0) + clinic.preparing_days
        starts = seats.admit(ready, rng, here)
        waits[here, i] = starts[here] - arrivals[here, i]
    return today, waits, n


class _Seats:
    """The day from which each seat is free, in every run."""

    def __init__(self, clinic: Clinic, runs: int) -> None:
        self.clinic, self.runs = clinic, runs
        most = max(len(c.free_from) for c in clinic.classes)
        self.free = np.full((runs, len(clinic.classes), most), NEVER)
        for i, one in enumerate(clinic.classes):
            self.free[:, i, : len(one.free_from)] = one.free_from
        self.weekdays = sorted({c.weekday for c in clinic.classes})
        self.of_day = [
            [i for i, c in enumerate(clinic.classes) if c.weekday == day] for day in self.weekdays
        ]
        self.stays = np.asarray(clinic.stays_days, float)
        self.per_week = np.minimum(np.asarray(clinic.per_week), len(self.weekdays))

    def admit(self, ready: Any, rng: np.random.Generator, here: Any = None) -> Any:
        """Book one person in every run (where ``here``); the day of their first session."""
        rows = np.arange(self.runs)
        k = rng.choice(self.per_week, self.runs)
        stay = rng.choice(self.stays, self.runs)
        shows = rng.random(self.runs) >= self.clinic.no_show_share
        kept = np.where(shows, stay, np.minimum(stay, self.clinic.no_show_days))
        soonest = self.free.min(axis=2)  # per class, the seat that is free first
        by_day = np.stack([soonest[:, members].min(axis=1) for members in self.of_day], axis=1)
        order = np.argsort(by_day, axis=1, kind="stable")
        kth = by_day[rows, order[rows, k - 1]]
        start = self._first_session(np.maximum(ready, kth), order, k)
        active = np.ones(self.runs, bool) if here is None else here
        for place in range(int(k.max())):
            chosen = active & (place < k) & (kth < NEVER)
            self._take(rows[chosen], order[chosen, place], (start + kept)[chosen])
        return start

    def _take(self, rows: Any, day: Any, until: Any) -> None:
        """Keep the earliest free seat of a weekday until a day."""
        if not len(rows):
            return
        for d, members in enumerate(self.of_day):
            mask = day == d
            if not mask.any():
                continue
            sub = self.free[rows[mask]][:, members]  # runs, classes of the day, seats
            flat = sub.reshape(len(sub), -1).argmin(axis=1)
            which, seat = np.divmod(flat, sub.shape[2])
            self.free[rows[mask], np.asarray(members)[which], seat] = until[mask]

    def _first_session(self, ready: Any, order: Any, k: Any) -> Any:
        """The first day on or after ``ready`` on which one of the person's classes is held."""
        return ready


class _SeatsOnClassDays(_Seats):
    """Seats with a real calendar: sessions fall on whole days, never on closed ones."""

    def __init__(self, clinic: Clinic, runs: int) -> None:
        super().__init__(clinic, runs)
        self.next = self._next_days(1500)

    def _next_days(self, days: int) -> Any:
        """For each weekday and day, the first day on or after it on which that class is held."""
        table: Any = np.full((len(self.weekdays), days), NEVER)
        for d, weekday in enumerate(self.weekdays):
            following: Any = NEVER
            for day in range(days - 1, -1, -1):
                is_held = (self.clinic.today_weekday + day) % 7 == weekday
                if is_held and day not in self.clinic.closed_days:
                    following = day
                table[d, day] = following
        return table

    def _first_session(self, ready: Any, order: Any, k: Any) -> Any:
        day = np.ceil(np.minimum(ready, self.next.shape[1] - 1)).astype(int)
        found = np.full(self.runs, NEVER)
        for place in range(int(k.max())):
            candidate = self.next[order[:, place], day]
            found = np.where(place < k, np.minimum(found, candidate), found)
        return np.where(ready >= NEVER, NEVER, found)


def _outlook(
    today: Any, waits: Any, n: Any, horizon: int, runs: int, rng: np.random.Generator
) -> Outlook:
    resampled = rng.choice(today, (RUNS, runs))
    medians = np.median(resampled, axis=1)
    nineties = np.quantile(resampled, 0.9, axis=1)
    in_time = np.where(np.isnan(waits), np.nan, waits <= TARGET_DAYS)
    has_any = bool((n > 0).any())
    shares = np.nanmean(in_time[n > 0], axis=1) if has_any else np.array([0.0])
    overall = float(np.nansum(in_time) / int(n.sum())) if has_any else None
    return Outlook(
        float(np.median(today)),
        _middle(medians),
        float(np.quantile(today, 0.9)),
        _middle(nineties),
        float((today <= TARGET_DAYS).mean()),
        overall,
        _middle(shares),
        float(n.mean()),
        horizon,
        runs,
    )


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
