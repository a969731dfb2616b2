"""Clock, calendar, signatures, assessments: everything counted in days."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from patients.calc.age import age_on
from patients.calc.days import clock
from patients.calc.limits import OutOfRange
from programs.enrolment.calc.calendar import (
    NoRoomInCourse,
    WeeklyClass,
    last_course_day,
    plan_sessions,
    week_of,
)
from programs.enrolment.calc.start_clock import start_clock
from programs.prescription.calc.signature import due_dates, is_late, next_signature_due

START = date(2026, 3, 2)  # a Monday
THREE = [WeeklyClass(1, 0), WeeklyClass(2, 2), WeeklyClass(3, 4)]


@pytest.mark.parametrize(
    ("born", "day", "age"),
    [
        (date(1960, 3, 2), date(2026, 3, 2), 66),
        (date(1960, 3, 3), date(2026, 3, 2), 65),
        (date(2000, 2, 29), date(2025, 2, 28), 24),
        (date(2000, 2, 29), date(2025, 3, 1), 25),
        (date(2000, 2, 29), date(2024, 2, 29), 24),
    ],
)
def test_age_counts_completed_years(born, day, age):
    assert age_on(born, day) == age


def test_age_before_birth_is_refused():
    with pytest.raises(OutOfRange):
        age_on(date(2000, 1, 2), date(2000, 1, 1))


@pytest.mark.parametrize(
    ("days", "late"),
    [(20, False), (21, False), (22, True)],  # ACC/AHA 2018 QM-1: within 21 days of discharge
)
def test_start_clock_is_late_after_day_21(days, late):
    clock = start_clock(
        START, discharged_on=START - timedelta(days=days), event_on=None, referred_on=START
    )
    assert (clock.day, clock.is_late, clock.days_left) == (days, late, 21 - days)


def test_start_clock_says_what_it_counts_from():
    days = {"discharged_on": date(2026, 2, 10), "event_on": date(2026, 2, 5)}
    anchors = []
    for known in [days, days | {"discharged_on": None}, dict.fromkeys(days)]:
        anchors.append(start_clock(START, referred_on=date(2026, 2, 20), **known).anchor)
    assert anchors == ["discharge", "event", "referral"]


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (time(9, 5), "9:05"),
        (time(0, 0), "0:00"),
        (time(13, 30, 59), "13:30"),
        (datetime(2026, 3, 2, 23, 59, tzinfo=UTC), "23:59"),
    ],
)
def test_the_clock_has_24_hours_and_no_leading_zero(at, said):
    assert clock(at) == said


def test_36_sessions_three_times_a_week_take_twelve_weeks():
    plan = plan_sessions(START, THREE, [])
    assert len(plan) == 36
    assert plan[0] == (START, 1)
    assert plan[-1][0] == START + timedelta(days=81)  # Friday of week twelve


def test_closures_push_the_calendar_back():
    plan = plan_sessions(START, THREE, [date(2026, 3, 4), date(2026, 3, 6)], 4)
    assert [day for day, _ in plan] == [
        date(2026, 3, 2),
        date(2026, 3, 9),
        date(2026, 3, 11),
        date(2026, 3, 13),
    ]


def test_daylight_saving_and_leap_day_lose_no_session():
    plan = plan_sessions(date(2028, 2, 28), [WeeklyClass(1, n) for n in range(7)], [], 21)
    assert [day for day, _ in plan] == [date(2028, 2, 28) + timedelta(days=n) for n in range(21)]
    assert date(2028, 2, 29) in {day for day, _ in plan}


def test_one_class_a_week_cannot_hold_37_sessions_in_36_weeks():
    assert len(plan_sessions(START, THREE[:1], [], 36)) == 36
    with pytest.raises(NoRoomInCourse, match="36"):
        plan_sessions(START, THREE[:1], [], 37)


def test_no_class_or_three_a_day_are_refused():
    with pytest.raises(NoRoomInCourse):
        plan_sessions(START, [], [])
    with pytest.raises(NoRoomInCourse, match="two"):
        plan_sessions(START, [WeeklyClass(n, 0) for n in range(3)], [])


def test_classes_closed_for_ever_are_refused():
    shut = [START + timedelta(days=n) for n in range(600)]
    with pytest.raises(NoRoomInCourse, match="closed"):
        plan_sessions(START, THREE, shut)


@given(
    weekdays=st.lists(st.integers(0, 6), min_size=1, max_size=5),
    shut=st.sets(st.integers(0, 300), max_size=40),
    sessions=st.integers(1, 36),
)
def test_plan_never_lies_on_a_closure_nor_thrice_a_day(weekdays, shut, sessions):
    classes = [WeeklyClass(n, day) for n, day in enumerate(weekdays)]
    closed = {START + timedelta(days=n) for n in shut}
    try:
        plan = plan_sessions(START, classes, closed, sessions)
    except NoRoomInCourse:
        return
    days = [day for day, _ in plan]
    assert len(plan) == sessions
    assert not closed & set(days)
    assert max(days.count(day) for day in days) <= 2
    assert days == sorted(days)
    assert days[-1] <= last_course_day(days[0])


def test_course_lasts_252_days():
    assert last_course_day(START) == START + timedelta(days=251)  # 36 weeks, day 1 included


@pytest.mark.parametrize(("days", "week"), [(0, 1), (6, 1), (7, 2), (83, 12), (84, 13), (-1, 0)])
def test_week_of_the_program(days, week):
    assert week_of(START + timedelta(days=days), START) == week


def test_first_signature_is_due_at_the_start():
    assert next_signature_due(None, START) == START


@pytest.mark.parametrize(
    ("days", "late"),  # 42 CFR 410.49: every 30 days; signed on day 31 is late
    [(29, False), (30, False), (31, True)],
)
def test_signature_is_late_after_30_days(days, late):
    due = next_signature_due(START, START)
    assert due == date(2026, 4, 1)
    assert is_late(due, START + timedelta(days=days)) is late


def test_signatures_count_30_days_over_a_short_february():
    assert next_signature_due(date(2027, 1, 31), START) == date(2027, 3, 2)
    assert next_signature_due(date(2028, 1, 31), START) == date(2028, 3, 1)


def test_twelve_weeks_have_signatures_near_days_0_30_60():
    days = due_dates(START, START + timedelta(days=83))
    assert [(day - START).days for day in days] == [0, 30, 60]
