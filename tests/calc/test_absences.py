"""Two sessions missed in a row without a reason make a call: common practice, no source."""

from datetime import date, timedelta

import pytest

from programs.attendance.calc.absences import Call, Past, to_call_about

MONDAY = date(2026, 11, 23)


def day(n):
    return MONDAY + timedelta(days=n)


def past(marks):
    """``x`` was missed without a reason, anything else was not; one a day."""
    return [Past(day(n), mark == "x") for n, mark in enumerate(marks)]


def found(marks, *calls, today=30):
    days = to_call_about(past(marks), calls, day(today))
    return [(on - MONDAY).days for on in days]


@pytest.mark.parametrize(
    ("marks", "run"),
    [("", []), ("x", []), ("xx", [0, 1]), (".x.x", []), ("xx.", []), (".xxx", [1, 2, 3]),
     ("x.xx", [2, 3])],
)  # fmt: skip
def test_two_in_a_row_up_to_the_last_session(marks, run):
    assert found(marks) == run


def test_who_was_reached_is_called_again_after_two_more():
    reached = Call(day(1), settles=True)
    assert found("xx", reached) == []
    assert found("xxx", reached) == []
    assert found("xxxx", reached) == [2, 3]


def test_a_call_about_earlier_sessions_leaves_what_was_missed_after_it():
    assert found("xxxx", Call(day(0), settles=True)) == [1, 2, 3]


def test_nobody_reached_is_called_again_at_once_or_on_the_day_of_the_next_try():
    assert found("xx", Call(day(1), settles=False)) == [0, 1]
    later = Call(day(1), settles=False, next_on=day(5))
    assert found("xx", later, today=4) == []
    assert found("xx", later, today=5) == [0, 1]


def test_the_latest_call_decides():
    missed, reached = Call(day(1), settles=False, next_on=day(9)), Call(day(1), settles=True)
    assert found("xx", missed, reached, today=3) == []
    again = Call(day(1), settles=False)
    assert found("xx", missed, again, today=3) == [0, 1]
