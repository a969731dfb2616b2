from datetime import UTC, date, datetime, time

import pytest

from patients.calc.limits import OutOfRange
from programs.attendance.calc.counting import minutes_late, sessions_for, why_not_counted


@pytest.mark.parametrize(
    ("minutes", "sessions"),  # HCPro, APCs Insider 2010-12-10: 31 for one, 91 for two, at most two
    [(0, 0), (30, 0), (30.9, 0), (31, 1), (60, 1), (90, 1), (90.9, 1), (91, 2), (120, 2), (300, 2)],
)
def test_minutes_make_sessions(minutes, sessions):
    assert sessions_for(minutes) == sessions


@pytest.mark.parametrize("minutes", [-1, 24 * 60 + 1])
def test_impossible_minutes_are_refused(minutes):
    with pytest.raises(OutOfRange):
        sessions_for(minutes)


def test_visit_that_does_not_count_says_why():
    assert "31" in why_not_counted(25)
    assert "91" in why_not_counted(45)  # long enough alone, but the day's second


@pytest.mark.parametrize(
    ("came", "late"),
    [("8:59", 0), ("9:00", 0), ("9:01", 1), ("9:12", 12), ("10:00", 60), ("10:01", 0)],
)
def test_late_is_between_the_hour_and_the_end_of_the_class(came, late):
    hour, minute = map(int, came.split(":"))
    at = datetime(2026, 3, 2, hour, minute, tzinfo=UTC)
    assert minutes_late(at, date(2026, 3, 2), time(9), 60) == late
