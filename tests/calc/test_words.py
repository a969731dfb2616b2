"""Short words beside a name: never by colour alone. The wording is a project choice."""

from datetime import date, timedelta

import pytest

from assessments.calc.schedule import Course, Record, lines_on
from patients.calc.days import long_day, short_day, short_weekday
from patients.calc.words import SIGNS, Word, due_word, word
from programs.enrolment.calc.start_clock import StartClock

MONDAY = date(2026, 3, 2)


def test_every_look_but_the_plain_one_has_a_sign():
    assert [look for look, sign in SIGNS.items() if not sign] == ["plain"]
    assert word("stop", "Stop F-01") == Word("stop", "■", "Stop F-01")
    with pytest.raises(KeyError):
        word("pink", "?")


@pytest.mark.parametrize(
    ("days", "look", "text"),
    [
        (-1, "hold", "Mon 2 Mar, overdue"),
        (0, "caution", "today"),
        (1, "caution", "tomorrow"),
        (2, "plain", "in 2 days, Mon 2 Mar"),
    ],
)
def test_what_is_due_is_told_from_today(days, look, text):
    assert due_word(MONDAY, days) == word(look, text)


@pytest.mark.parametrize(
    ("day", "short", "weekday", "long"),
    [
        (date(2026, 1, 1), "1 Jan", "Thu 1 Jan", "Thursday 1 January"),
        (date(2026, 12, 31), "31 Dec", "Thu 31 Dec", "Thursday 31 December"),
        (date(2025, 12, 31), "31 Dec 2025", "Wed 31 Dec 2025", "Wednesday 31 December 2025"),
        (date(2027, 1, 1), "1 Jan 2027", "Fri 1 Jan 2027", "Friday 1 January 2027"),
        (date(2019, 11, 20), "20 Nov 2019", "Wed 20 Nov 2019", "Wednesday 20 November 2019"),
    ],
)
def test_a_day_outside_the_current_year_shows_its_year(day, short, weekday, long):
    found = (short_day(day, MONDAY), short_weekday(day, MONDAY), long_day(day, MONDAY))
    assert found == (short, weekday, long)


def test_the_years_turn_is_seen_in_every_short_word():
    """Weekdays by the calendar of 2025 and 2026."""
    new_year = date(2026, 1, 2)
    assert due_word(date(2025, 12, 31), -2).text == "Wed 31 Dec 2025, overdue"
    assert due_word(date(2026, 1, 5), 3).text == "in 3 days, Mon 5 Jan"
    assert due_word(date(2026, 1, 5), 7).text == "in 7 days, Mon 5 Jan 2026"  # read on 29 Dec 2025
    clock = StartClock("event", date(2025, 11, 26), 37, date(2025, 12, 17))
    assert clock.note == "since event, target 17 Dec 2025"
    line = lines_on(Course(date(2025, 12, 15), 12, (), ()), [], new_year)[0]
    assert [w.text for w in line.words] == ["late, 15 Dec 2025"]


@pytest.mark.parametrize(
    ("day", "expected"),
    [(13, "plain"), (14, "caution"), (21, "caution"), (22, "hold")],  # target: day 21
)
def test_the_clock_is_a_caution_within_a_week_of_its_target(day, expected):
    clock = StartClock("discharge", MONDAY, day, MONDAY + timedelta(days=21))
    assert clock.word == word(expected, f"day {day}")
    assert clock.note == "since discharge, target 23 Mar"


def test_nobody_waits_before_a_planned_discharge():
    clock = StartClock("discharge", MONDAY, -2, MONDAY + timedelta(days=21))
    assert clock.word == word("note", "still in hospital")
    assert clock.note == "discharge planned 2 Mar"


@pytest.mark.parametrize(
    ("record", "day", "said"),
    [
        (None, -20, ["◇ later, 2 Mar"]),
        (None, -3, ["◇ may be done now, due Mon 2 Mar"]),
        (None, 3, ["▲ due Mon 2 Mar"]),
        (None, 20, ["◆ late, 2 Mar"]),
        (None, 40, ["◆ missed, 2 Mar"]),
        (("", 0, None), -3, ["● booked Mon 2 Mar"]),
        (("", 22, None), 20, ["● booked Tue 24 Mar", "◆ late"]),
        (("", 4, None), 5, ["▲ due Mon 2 Mar", "○ booked 6 Mar, not kept"]),
        (("", None, 1), 5, ["◆ done 3 Mar"]),
        (("", None, 9), 12, ["◆ done late 11 Mar"]),
        (("in hospital", None, None), 5, ["○ not obtained"]),
    ],
)
def test_how_an_assessment_stands_is_said_in_words(record, day, said):
    def on(days):
        return None if days is None else MONDAY + timedelta(days=days)

    records = []
    if record is not None:
        because, planned, performed = record
        records = [Record("baseline", 1, on(planned), on(performed), because)]
    line = lines_on(Course(MONDAY, 12, (), ()), records, on(day))[0]
    assert [f"{w.sign} {w.text}" for w in line.words] == said
