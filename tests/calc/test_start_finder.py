"""The start finder: what it offers can be booked, and the best comes first."""

from datetime import date, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.enrolment.calc.calendar import WeeklyClass, plan_sessions
from programs.enrolment.calc.start_finder import OpenClass, find_starts

MONDAY = date(2026, 3, 2)
NINE, TEN = time(9), time(10)
MWF = [OpenClass(i, day, NINE) for i, day in enumerate((0, 2, 4))]


def full_until(day: date, since: date, weekday: int) -> frozenset[date]:
    """Every such weekday up to a day."""
    first = since + timedelta(days=(weekday - since.weekday()) % 7)
    return frozenset(
        first + timedelta(weeks=n) for n in range(60) if first + timedelta(weeks=n) <= day
    )


def test_free_classes_start_at_once():
    (offer, *_) = find_starts(MWF, from_on=MONDAY, target_on=MONDAY, per_week=3)
    assert (offer.starts_on, offer.is_in_time, offer.is_same_hour) == (MONDAY, True, True)


@pytest.mark.parametrize(
    ("target", "in_time"),
    [(date(2026, 3, 3), False), (date(2026, 3, 4), True), (date(2026, 3, 5), True)],
)
def test_in_time_means_on_or_before_the_target(target, in_time):
    (offer,) = find_starts(MWF[1:2], from_on=MONDAY, target_on=target, per_week=1)
    assert (offer.starts_on, offer.is_in_time) == (date(2026, 3, 4), in_time)


def test_a_full_class_moves_the_start_to_when_it_is_free_throughout():
    full = full_until(date(2026, 3, 18), MONDAY, 2)
    classes = [MWF[0], OpenClass(1, 2, NINE, full), MWF[2]]
    (offer, *_) = find_starts(classes, from_on=MONDAY, target_on=None, per_week=3)
    # Wednesday is free from 25 March; Friday the 20th and Monday the 23rd already count.
    assert offer.starts_on == date(2026, 3, 20)


def test_closed_first_days_are_skipped():
    shut = {MONDAY, date(2026, 3, 4)}
    (offer, *_) = find_starts(MWF, from_on=MONDAY, target_on=None, per_week=3, closed=shut)
    assert offer.starts_on == date(2026, 3, 6)


def test_cancelled_first_class_is_not_promised():
    classes = [OpenClass(1, 0, NINE, not_held_on=frozenset({MONDAY}))]
    (offer,) = find_starts(classes, from_on=MONDAY, target_on=MONDAY, per_week=1)
    assert (offer.starts_on, offer.is_in_time) == (MONDAY + timedelta(weeks=1), False)


def test_only_days_that_suit_are_offered():
    assert find_starts(MWF, from_on=MONDAY, target_on=None, per_week=3, weekdays=[0, 2]) == []
    offers = find_starts(MWF, from_on=MONDAY, target_on=None, per_week=2, weekdays=[0, 2])
    assert [offer.classes for offer in offers] == [(0, 1)]


def test_same_hour_and_rest_days_come_first():
    classes = [*MWF, OpenClass(3, 1, NINE), OpenClass(4, 2, TEN)]
    offers = find_starts(classes, from_on=MONDAY, target_on=None, per_week=3)
    assert offers[0].classes == (0, 1, 2)
    assert all(offer.is_same_hour for offer in offers)


def test_nothing_is_offered_when_nothing_is_free():
    full = full_until(date(2027, 6, 1), MONDAY, 0)
    assert (
        find_starts([OpenClass(1, 0, NINE, full)], from_on=MONDAY, target_on=None, per_week=1) == []
    )
    assert find_starts([], from_on=MONDAY, target_on=None, per_week=3) == []


days = st.integers(0, 90).map(lambda n: MONDAY + timedelta(days=n))


@given(
    full=st.lists(st.frozensets(days, max_size=8), min_size=5, max_size=5),
    closed=st.frozensets(days, max_size=6),
    ahead=st.integers(0, 13),
    per_week=st.integers(1, 3),
)
def test_every_offer_can_be_booked(full, closed, ahead, per_week):
    """A course from an offered start meets no full class in the weeks looked at."""
    classes = [OpenClass(i, i, NINE, full[i]) for i in range(5)]
    from_on = MONDAY + timedelta(days=ahead)
    for offer in find_starts(
        classes, from_on=from_on, target_on=None, per_week=per_week, closed=closed, weeks=8
    ):
        assert offer.starts_on >= from_on
        weekly = [WeeklyClass(i, i) for i in offer.classes]
        plan = plan_sessions(offer.starts_on, weekly, closed, 5 * per_week)
        assert plan[0][0] == offer.starts_on
        assert not [day for day, key in plan if day in full[key] and day < from_on + timedelta(56)]


@given(
    start=st.dates(date(2024, 1, 1), date(2030, 12, 31)),
    weekdays=st.lists(st.integers(0, 6), min_size=1, max_size=5, unique=True),
    doubled=st.booleans(),
    gaps=st.frozensets(st.integers(0, 200), max_size=20),
    cancelled=st.frozensets(st.tuples(st.integers(0, 200), st.integers(0, 6)), max_size=20),
    sessions=st.integers(1, 30),
)
def test_a_calendar_never_meets_a_closure_or_three_on_a_day(
    start, weekdays, doubled, gaps, cancelled, sessions
):
    closed = {start + timedelta(days=n) for n in gaps}
    off = {(start + timedelta(days=n), key) for n, key in cancelled}
    classes = [WeeklyClass(day, day) for day in weekdays]
    if doubled:
        classes.append(WeeklyClass(100 + weekdays[0], weekdays[0]))
    plan = plan_sessions(start, classes, closed, sessions, not_held=off)
    days_planned = [day for day, _ in plan]
    assert len(plan) == len(set(plan)) == sessions
    assert days_planned == sorted(days_planned)
    assert not closed & set(days_planned)
    assert not off & set(plan)
    assert max(days_planned.count(day) for day in days_planned) <= 2
    assert all(day.weekday() == key % 100 for day, key in plan)
