"""Pools of seats, all runs at once, give what choosing among classes one run at a time gives."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from reports.calc.start_outlook import Clinic, SimClass, draw, play
from reports.calc.start_outlook_seats import NEVER, Seats, SeatsOnClassDays

OUT_OF_SIGHT = 1500  # days


def _booked_one_by_one(clinic, people, run, *, on_class_days):
    """Waits of one run: each person looks through the classes and takes one seat of each."""
    free = [list(one.free_from) for one in clinic.classes]
    waits = []
    for came, ready, k, keeps in zip(
        *(a[:, run] for a in (people.came, people.ready, people.per_week, people.keeps)),
        strict=True,
    ):
        if math.isinf(came):
            waits.append(math.nan)
            continue
        first_of_day = {}  # weekday: when its first seat is free, and in which class
        for number, one in enumerate(clinic.classes):
            soonest = (min(free[number], default=NEVER), number)
            first_of_day[one.weekday] = min(soonest, first_of_day.get(one.weekday, soonest))
        days = sorted(first_of_day, key=lambda day: (first_of_day[day][0], day))[:k]
        start = max(ready, *(first_of_day[day][0] for day in days))
        if on_class_days and start < NEVER:
            start = math.ceil(start)
            while start in clinic.closed_days or (clinic.today_weekday + start) % 7 not in days:
                start += 1
        if start >= (OUT_OF_SIGHT if on_class_days else NEVER):
            waits.append(NEVER)  # and no seat is kept
            continue
        for day in days:
            since, number = first_of_day[day]
            free[number].remove(since)
            free[number].append(start + keeps)
        waits.append(start - came)
    return waits


DAYS = st.integers(0, 90).map(float)
CLASSES = st.builds(SimClass, st.sampled_from([0, 1, 2, 4]), st.lists(DAYS, max_size=5).map(tuple))
CLINICS = st.builds(
    Clinic,
    classes=st.lists(CLASSES, min_size=1, max_size=6).map(tuple),
    arrivals_per_day=st.sampled_from([0.0, 0.1, 0.4, 1.5]),
    stays_days=st.lists(st.integers(0, 100).map(float), min_size=1, max_size=4).map(tuple),
    per_week=st.lists(st.integers(1, 5), min_size=1, max_size=3).map(tuple),
    no_show_share=st.sampled_from([0.0, 0.3, 1.0]),
    no_show_days=st.sampled_from([0.0, 14.0]),
    preparing_days=st.sampled_from([0.0, 5.0]),
    ahead=st.lists(st.sampled_from([-2.0, 0.0, 5.0, 7.5]), max_size=6).map(tuple),
    closed_days=st.frozensets(st.integers(0, 60), max_size=8),
    today_weekday=st.integers(0, 6),
)
TIGHT = Clinic(
    (SimClass(0, (0.0, 3.0)), SimClass(2, (0.0,)), SimClass(0, (3.0, 3.0)), SimClass(4, (9.0,))),
    0.6,
    (20.0, 40.0),
    (1, 2, 3),
    0.1,
    ahead=(0.0,) * 4,
    closed_days=frozenset({3, 4, 5}),
)


@settings(deadline=None)
@given(CLINICS, st.booleans(), st.integers(0, 2**32))
@example(TIGHT, True, 1)
@example(TIGHT, False, 1)
def test_pools_give_the_waits_of_choosing_among_classes(clinic, on_class_days, seed):
    runs = 6
    people = draw(clinic, 30, runs, np.random.default_rng(seed))
    today, later = play(clinic, people, on_class_days=on_class_days)
    for run in range(runs):
        waits = _booked_one_by_one(clinic, people, run, on_class_days=on_class_days)
        expected = waits[len(clinic.ahead) :]
        found = np.array([today[run], *later[run]])
        found = np.where(found > NEVER / 2, NEVER, found)
        np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-9)


def _starts(clinic):
    people = draw(clinic, 0, 1, np.random.default_rng(1))
    return play(clinic, people, on_class_days=True)[0].tolist()


@pytest.mark.parametrize(
    ("free_from", "start"),
    [
        (0.0, 0),
        (0.1, 7),
        (6.5, 7),
        (7.0, 7),
        (7.5, 14),
        (1498.0, 1498),
        (1499.0, NEVER),  # the next class would be on day 1505
        (5e6, NEVER),
        (NEVER, NEVER),
    ],
)
def test_seat_is_used_on_the_first_class_day_once_it_is_free(free_from, start):
    clinic = Clinic((SimClass(0, (free_from,)),), 0.0, (84.0,), (1,))
    assert _starts(clinic) == [start]


def test_last_day_in_sight_is_day_1499():
    """Day 0 a Sunday makes day 1499 one of weekday 0: 1499 = 7 x 214 + 1."""
    clinic = Clinic((SimClass(0, (1499.0,)),), 0.0, (84.0,), (1,), today_weekday=6)
    assert _starts(clinic) == [1499]
    assert _starts(replace(clinic, closed_days=frozenset({1499}))) == [NEVER]


@pytest.mark.parametrize("stay", [14_000.0, 31_000.0, 40_000.0, 1e9])
def test_longest_stay_keeps_a_seat_out_of_sight(stay):
    """Sixteen bits are enough: a seat kept for ever is not free again before it was taken."""
    clinic = Clinic((SimClass(0, (1400.0,)),), 0.0, (stay,), (1,), ahead=(0.0,))
    assert _starts(clinic) == [NEVER]


@pytest.mark.parametrize("keeps", [0.0, 30.0])
@pytest.mark.parametrize(("kind", "more"), [(Seats, ()), (SeatsOnClassDays, (0, frozenset()))])
def test_somebody_for_whom_there_are_too_few_weekdays_keeps_no_seat(kind, more, keeps):
    seats = kind({0: [0.0], 2: []}, (2, 1), *more)
    needs_two_then_one = np.array([[2], [1]])
    starts = seats.book(np.zeros((2, 1)), needs_two_then_one, np.full((2, 1), keeps))
    assert starts.tolist() == [[NEVER], [0]]
