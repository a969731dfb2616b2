"""The earliest start that fits: which classes, from which day, inside the 21-day target or not.

What makes one start better than another, and how far the search goes, is a project choice.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from itertools import combinations, product

SEARCH_DAYS = 84  # twelve weeks ahead; nobody should be booked later than that
MOST_OFFERS = 6
MOST_MIXED = 2
MOST_A_DAY = {1: 40, 2: 16, 3: 8}  # classes looked at per weekday, the earliest free first


@dataclass(frozen=True)
class OpenClass:
    """A class as the finder sees it: weekday (Monday is 0), hour, and the days it is full."""

    key: int
    weekday: int
    starts_at: time
    full_on: frozenset[date] = frozenset()  # no free seat
    not_held_on: frozenset[date] = frozenset()  # cancelled


@dataclass(frozen=True)
class Offer:
    """A start somebody can be offered."""

    starts_on: date
    classes: tuple[int, ...]
    is_in_time: bool
    is_same_hour: bool
    has_rest_days: bool  # no two sessions on neighbouring days


def find_starts(
    classes: Sequence[OpenClass],
    *,
    from_on: date,
    target_on: date | None,
    per_week: int,
    weekdays: Collection[int] = range(7),
    closed: Collection[date] = (),
    weeks: int = 12,
) -> list[Offer]:
    """Sets of classes that give ``per_week`` sessions on different days, the best first.

    A set fits when each of its classes keeps a seat free on every day it is held over the coming
    ``weeks``; otherwise the start moves to the first day from which that is so. Best is the
    earliest start, then the same hour on every day, then a rest day between sessions.

    Parameters
    ----------
    classes : the open classes of the timetable.
    from_on : first day that may hold a session.
    target_on : last day in time (21 days after discharge), None while unknown.
    per_week : sessions a week. [sessions], 1 to 6
    weekdays : days that suit the person, 0 (Monday) to 6.
    closed : days on which nothing is held.
    weeks : how long a seat must stay free. [weeks], at least 1

    Returns
    -------
    At most six offers; empty when no set is free within 84 days of ``from_on``.
    """
    shut = set(closed)
    by_weekday: dict[int, list[tuple[OpenClass, date]]] = {}
    for one in classes:
        if one.weekday in weekdays:
            since = _free_from(one, from_on, weeks, shut)
            if since is not None:
                by_weekday.setdefault(one.weekday, []).append((one, since))
    most = MOST_A_DAY.get(per_week, 2)
    for day, found in by_weekday.items():
        by_weekday[day] = sorted(found, key=lambda pair: (pair[1], pair[0].starts_at))[:most]
    offers = []
    for days in combinations(sorted(by_weekday), per_week):
        for chosen in product(*(by_weekday[day] for day in days)):
            offers.append(_offer(chosen, from_on, target_on, shut))
    offers.sort(key=_rank)
    return _varied(offers)


def _free_from(one: OpenClass, from_on: date, weeks: int, shut: Collection[date]) -> date | None:
    """The first day of the class from which a whole course finds a seat; None within the search."""
    day = from_on + timedelta(days=(one.weekday - from_on.weekday()) % 7)
    end = from_on + timedelta(days=SEARCH_DAYS)
    taken = sorted(full for full in one.full_on if full >= day)
    while day <= end:
        last = day + timedelta(weeks=weeks)
        in_the_way = [full for full in taken if day <= full < last]
        if not in_the_way:
            while day in shut or day in one.not_held_on:
                day += timedelta(weeks=1)
            return day
        day = in_the_way[-1] + timedelta(weeks=1)
    return None


def _offer(
    chosen: Sequence[tuple[OpenClass, date]],
    from_on: date,
    target_on: date | None,
    shut: Collection[date],
) -> Offer:
    """From the day on which all classes are free, the first session that is held."""
    starts_on = _first_held(chosen, from_on, shut)
    days = sorted(one.weekday for one, _ in chosen)
    gaps = [(b - a) % 7 for a, b in zip(days, [*days[1:], days[0] + 7], strict=True)]
    return Offer(
        starts_on,
        tuple(one.key for one, _ in chosen),
        target_on is not None and starts_on <= target_on,
        len({one.starts_at for one, _ in chosen}) == 1,
        min(gaps, default=7) != 1,
    )


def _first_held(
    chosen: Sequence[tuple[OpenClass, date]], from_on: date, shut: Collection[date]
) -> date:
    """The first session: each class is met once in the seven days up to when all are free.

    The day on which the last of them is free is held, so the search ends there at the latest.
    """
    ready = max(since for _, since in chosen)
    day = max(ready - timedelta(days=6), from_on)
    while day in shut or not any(
        day.weekday() == one.weekday and day >= since and day not in one.not_held_on
        for one, since in chosen
    ):
        day += timedelta(days=1)
    return day


def _rank(offer: Offer) -> tuple[date, bool, bool, tuple[int, ...]]:
    return offer.starts_on, not offer.is_same_hour, not offer.has_rest_days, offer.classes


def _varied(offers: Sequence[Offer]) -> list[Offer]:
    """The best few; sets of mixed hours only where they start sooner, or nothing else is there."""
    same_hour = [offer for offer in offers if offer.is_same_hour]
    soonest = same_hour[0].starts_on if same_hour else None
    mixed = [
        offer
        for offer in offers
        if not offer.is_same_hour and (soonest is None or offer.starts_on < soonest)
    ]
    kept = [*mixed[: MOST_OFFERS if soonest is None else MOST_MIXED], *same_hour]
    return sorted(kept, key=_rank)[:MOST_OFFERS]
