"""The seats of a timetable in many runs at once, booked first come, first served.

Of a weekday only the seat that is free first is ever taken, whichever class it belongs to. So the
classes of a weekday are one pool of seats, kept sorted: booking takes its first entry away and
slides the new one in, which is two array operations over (seats, weekdays, runs). That the weekdays
whose seats are free first are taken is a project choice.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

NEVER = 1e9


class Seats:
    """The day from which each seat is free, in every run; time is continuous."""

    never: Any = np.float64(NEVER)

    def __init__(self, free_from: Mapping[int, list[float]], shape: tuple[int, int]) -> None:
        """Seats for so many people in so many runs.

        Parameters
        ----------
        free_from : for each weekday, the day from which each seat is free. [days]
        shape : people and runs. [1]
        """
        n_people, runs = shape
        self.weekdays = sorted(free_from)
        most = max(1, *(len(days) for days in free_from.values()))
        start = np.full((most, len(self.weekdays), 1), self.never)
        for d, weekday in enumerate(self.weekdays):
            days = free_from[weekday]
            start[: len(days), d, 0] = np.sort(self._days(days))
        # Each person takes at most one seat of a weekday, so the first n_people decide.
        self.free = np.repeat(start[:n_people], runs, axis=2)
        self.spare = np.empty_like(self.free)
        order = np.arange(len(self.weekdays))
        self.stands_before = (order[:, None] < order)[:, :, None]

    def book(self, ready: Any, per_week: Any, keeps: Any) -> Any:
        """Book everybody, one after another.

        Parameters
        ----------
        ready : day from which each can start, (people, runs). [days]
        per_week : on how many weekdays each needs a seat; 0 is nobody.
        keeps : how long each keeps the seats. [days], 0 or more

        Returns
        -------
        The day of each first session, (people, runs) [days]; ``NEVER`` where there is none.
        """
        ready, keeps = self._days(ready), self._days(keeps)
        starts = np.empty_like(ready)
        for i in range(len(ready)):
            left = len(ready) - i
            starts[i] = self._admit(ready[i], per_week[i], keeps[i], left)
        return np.where(starts == self.never, NEVER, starts)

    def _admit(self, ready: Any, k: Any, keeps: Any, left: int) -> Any:
        """Book one person in every run; the day of their first session."""
        soonest = self.free[0]
        chosen = self._rank(soonest) < k
        since = np.maximum(ready, np.where(chosen, soonest, ready).max(axis=0))
        start = self._first_session(since, chosen)
        taken = chosen & (start < self.never)
        self._replace_soonest(np.where(taken, start + keeps, soonest), left)
        return start

    def _rank(self, soonest: Any) -> Any:
        """How many weekdays have a seat free before this one; of equals the first comes first."""
        one, other = soonest[None], soonest[:, None]
        is_before = (other < one) | ((other == one) & self.stands_before)
        return is_before.view(np.int8).sum(axis=0, dtype=np.int8)

    def _replace_soonest(self, until: Any, left: int) -> None:
        """Take the first seat of every weekday away and put one in, free not earlier than it.

        The entry put in pushes those below it one place to the front: where it is the first one
        itself, nothing changes. With ``left`` people to come, this one included, no more than the
        first ``left`` entries are ever looked at.
        """
        free, new = self.free[:left], self.spare[:left]
        np.maximum(free, until, out=new)
        np.minimum(new[:-1], free[1:], out=new[:-1])
        self.free, self.spare = new, free

    def _days(self, days: Any) -> Any:
        return np.asarray(days, float)

    def _first_session(self, since: Any, chosen: Any) -> Any:
        """The first day on or after ``since`` on which one of the chosen weekdays has a class."""
        return since


class SeatsOnClassDays(Seats):
    """Seats with a real calendar: sessions fall on whole days, never on closed ones.

    Days are whole numbers in 16 bits, half the work of the smallest usual float: a seat that is
    free from noon is first used the day after.
    """

    never = np.int16(np.iinfo(np.int16).max)
    last = 1500  # the first day too late to be looked at

    def __init__(
        self,
        free_from: Mapping[int, list[float]],
        shape: tuple[int, int],
        today_weekday: int,
        closed_days: frozenset[int],
    ) -> None:
        """As ``Seats``, with the weekday of day 0 and the days on which nothing is held."""
        super().__init__(free_from, shape)
        days = np.arange(self.last + 1)
        is_held = (today_weekday + days) % 7 == np.array(self.weekdays)[:, None]
        is_held &= (days < self.last) & ~np.isin(days, list(closed_days))
        held = np.where(is_held, days, self.never).astype(np.int16)
        # For each weekday and day, the first day on or after it on which its classes are held.
        self.next = np.minimum.accumulate(held[:, ::-1], axis=1)[:, ::-1].copy()

    def _days(self, days: Any) -> Any:
        """Rounded up; what is out of sight stays so, and a sum of two of them is still a day."""
        return np.ceil(np.clip(days, 0, 10 * self.last)).astype(np.int16)

    def _first_session(self, since: Any, chosen: Any) -> Any:
        following = self.next.take(since, axis=1, mode="clip")
        return np.where(chosen, following, self.never).min(axis=0)
