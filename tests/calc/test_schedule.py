"""Which assessment a course asks for next, worked out on the day.

Twelve weeks from Monday 2 March 2026, checks every two weeks (10A NCAC 14F .1802); formal
reassessment in week six and at exit, windows: common practice, no source.
"""

from datetime import date, timedelta

import pytest

from assessments.calc.schedule import Course, Due, Record, asked_for, due_next, lines_on
from assessments.calc.timing import Pausing, Standing

START = date(2026, 3, 2)


def on(days):
    return START + timedelta(days=days)


def course(*pauses, **given):
    return Course(START, 12, tuple(pauses), (), **given)


def done(kind, number, day):
    return Record(kind, number, None, on(day), "")


def booked(kind, number, day):
    return Record(kind, number, on(day), None, "")


BASELINE = done("baseline", 1, 0)


@pytest.mark.parametrize(
    ("records", "day", "name", "due"),
    [
        ((), -3, "Baseline assessment", 0),
        ((), 34, "Baseline assessment", 0),  # late, still worth doing
        ((), 35, "Six-week reassessment", 42),  # from now on a baseline would be none
        ((BASELINE,), 0, "Progress check", 14),
        ((BASELINE,), 18, "Progress check", 14),  # the last day of its window
        ((BASELINE,), 19, "Progress check", 28),  # let go
        ((BASELINE, booked("informal", 2, 16)), 10, "Progress check", 16),
        ((BASELINE, booked("informal", 2, 16)), 17, "Progress check", 14),  # not kept
        ((BASELINE, Record("informal", 2, None, None, "away")), 14, "Progress check", 28),
        ((BASELINE, done("six_weeks", 1, 42)), 76, "Exit assessment", 83),
    ],
)
def test_what_is_due_next_follows_the_day(records, day, name, due):
    assert due_next(course(), records, on(day)) == Due(name, on(due))


def test_nothing_is_due_when_all_is_done_or_the_course_has_ended():
    every = [BASELINE, done("six_weeks", 1, 42), done("exit", 1, 83)]
    every += [done("informal", week, 7 * week) for week in (2, 4, 8, 10)]
    assert due_next(course(), tuple(every), on(84)) is None
    assert due_next(course(closed_on=on(10)), (), on(11)) is None


@pytest.mark.parametrize(("back", "due"), [(None, 24), (24, 24), (17, 17)])
def test_a_pause_pushes_what_follows_back_by_its_days(back, due):
    # Paused from day 14: as long as it lasts, up to the day asked about.
    pause = Pausing(on(14), None if back is None else on(back))
    found = due_next(course(pause), (BASELINE,), on(24 if back != 17 else 17))
    assert found == Due("Progress check", on(due))


def test_a_course_knows_whether_it_is_paused():
    lasting = course(Pausing(on(14), None))
    assert lasting.is_paused(on(14))
    assert not lasting.is_paused(on(13))
    assert not course(Pausing(on(14), on(20))).is_paused(on(30))


def test_what_was_booked_beside_the_plan_stays_while_the_course_lasts():
    weekly = booked("informal", 3, 21)
    lines = lines_on(course(), [weekly], on(10))
    found = [(line.standing, line.on) for line in lines if line.stored is weekly]
    assert found == [(Standing.OPEN, on(21))]
    assert all(line.stored is not weekly for line in lines_on(course(), [weekly], on(22)))
    left = course(closed_on=on(12))
    assert all(line.stored is not weekly for line in lines_on(left, [weekly], on(12)))


def test_a_performed_line_says_when_and_is_booked_no_more():
    record = Record("baseline", 1, on(2), on(1), "")
    line = lines_on(course(), [record], on(1))[0]
    assert (line.performed_on, line.booked_on, line.is_ahead) == (on(1), None, False)
    open_line = lines_on(course(), [], on(1))[0]
    assert (open_line.performed_on, open_line.booked_on) == (None, None)
    assert open_line.is_waiting


def test_what_was_performed_beside_the_plan_stays_in_the_list():
    weekly = done("informal", 3, 21)  # while the site checked every week
    found = [line for line in lines_on(course(), [weekly], on(40)) if line.stored is weekly]
    assert [(line.standing, line.on) for line in found] == [(Standing.DONE, on(21))]


def asked(the_course, records, day, ahead=7):
    lines = asked_for(the_course, tuple(records), on(day), ahead)
    return [(line.milestone.kind, f"{line.standing}", (line.on - START).days) for line in lines]


@pytest.mark.parametrize(
    ("records", "day", "lines"),
    [
        ((), 0, [("baseline", "due", 0)]),
        ((BASELINE,), 6, []),  # the first check lies eight days ahead
        ((BASELINE,), 7, [("informal", "later", 14)]),
        ((BASELINE,), 14, [("informal", "due", 14)]),
        # A check that was left out is asked for no more: the next follows in two weeks.
        ((BASELINE,), 20, []),
        ((BASELINE,), 45, [("six_weeks", "due", 42)]),
        # What is formal is asked for until somebody says why it was not done, beside what is next.
        ((), 60, [("baseline", "missed", 0), ("six_weeks", "late", 42)]),
        ((BASELINE,), 84, [("six_weeks", "missed", 42), ("exit", "due", 83)]),
        ((BASELINE, Record("six_weeks", 1, None, None, "away")), 84, [("exit", "due", 83)]),
    ],
)
def test_due_asks_for_what_is_next_and_for_what_was_missed(records, day, lines):
    assert asked(course(), records, day) == lines


def test_how_far_ahead_is_asked_for_is_said():
    assert asked(course(), [BASELINE], 6, ahead=8) == [("informal", "later", 14)]


def test_while_a_pause_lasts_only_what_is_overdue_or_booked_is_asked_for():
    paused = course(Pausing(on(20), None))
    assert asked(paused, [BASELINE], 22) == []
    assert asked(paused, [BASELINE, booked("informal", 2, 26)], 22) == [("informal", "late", 26)]
    assert asked(paused, [], 40) == [("baseline", "late", 0)]


def test_of_a_course_that_ended_exit_results_are_sought():
    assert asked(course(closed_on=on(30)), [BASELINE], 32) == [("exit", "due", 30)]
    assert asked(course(closed_on=on(30), seeks_exit=False), [BASELINE], 32) == []
