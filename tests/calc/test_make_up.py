"""Which class suits a make-up, and what is missing of a course.

Two sessions a day and the span of a course: 42 CFR 410.49(f). The rest is common practice, no
source.
"""

from datetime import date, time, timedelta

import pytest

from programs.enrolment.calc.make_up import Away, Held, Own, fitting, missing_sessions

MONDAY = date(2026, 11, 23)
NINE, TEN = time(9), time(10)


def day(n):
    return MONDAY + timedelta(days=n)


def held(n, key=1, at=NINE, minutes=60, free=1):
    return Held(day(n), key, at, minutes, free)


def own(n, key=1, at=NINE, minutes=60, is_missed=False):
    return Own(day(n), key, at, minutes, is_missed)


def chosen(classes, mine=(), pauses=(), first=0, last=60, most=9):
    found = fitting(classes, mine, pauses, first_on=day(first), last_on=day(last), most=most)
    return [(one.on - MONDAY).days for one in found]


def test_the_next_ones_come_first_and_no_more_than_asked():
    assert chosen([held(4), held(2), held(7)], most=2) == [2, 4]


def test_two_of_one_day_come_by_the_hour():
    early, late = held(2, 1, NINE), held(2, 2, TEN)
    assert fitting([late, early], [], [], first_on=MONDAY, last_on=day(9), most=2) == [early, late]


def test_a_full_class_is_left_out():
    assert chosen([held(2, free=0), held(4, free=-1), held(7)]) == [7]


@pytest.mark.parametrize(("n", "fits"), [(0, False), (1, True), (60, True), (61, False)])
def test_both_ends_of_the_span_are_inside(n, fits):
    assert bool(chosen([held(n)], first=1, last=60)) is fits


@pytest.mark.parametrize(
    ("back", "fits"), [(None, [1]), (2, [1, 2, 3]), (3, [1, 3]), (4, [1])], ids=str
)
def test_a_pause_is_left_out_until_the_day_they_are_back(back, fits):
    pause = Away(day(2), day(back) if back is not None else None)
    assert chosen([held(1), held(2), held(3)], pauses=[pause]) == fits


def test_a_second_session_of_a_day_fits_and_a_third_does_not():
    other = [own(2, 5, time(13)), own(2, 6, time(15))]
    assert chosen([held(2)], other[:1]) == [2]
    assert chosen([held(2)], other) == []


@pytest.mark.parametrize(("at", "fits"), [(time(9, 59), []), (TEN, [2]), (time(8, 1), [])])
def test_two_classes_at_one_hour_do_not_fit(at, fits):
    assert chosen([held(2, minutes=60)], [own(2, 5, at, 60)]) == fits


def test_a_session_of_their_own_is_no_make_up():
    assert chosen([held(2, key=1)], [own(2, key=1)]) == []


def test_a_day_on_which_they_are_away_is_left_out():
    assert chosen([held(2, at=time(15)), held(4)], [own(2, 5, NINE, is_missed=True)]) == [4]


@pytest.mark.parametrize(
    ("planned", "counted", "booked", "missing"),
    [(36, 0, 36, 0), (36, 10, 25, 1), (36, 35, 0, 1), (36, 36, 0, 0), (36, 30, 8, 0),
     (12, 3, 4, 5), (72, 40, 30, 2)],
)  # fmt: skip
def test_missing_is_neither_done_nor_booked(planned, counted, booked, missing):
    assert missing_sessions(planned, counted, booked) == missing
