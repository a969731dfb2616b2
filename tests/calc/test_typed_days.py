"""Days and hours as they are typed: read in one way, and never swapped or guessed."""

from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from patients.calc.days import FIGURES, clock, numeric_day
from patients.calc.typed_days import NotADay, NotAnHour, read_day, read_hour

DAY = date(2026, 11, 26)
EITHER = date(2026, 3, 4)


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("11/26/2026", "mdy", DAY), ("26/11/2026", "dmy", DAY), ("26.11.2026", "dmy", DAY),
        ("11-26-2026", "mdy", DAY), ("3/4/2026", "mdy", EITHER), ("4/3/2026", "dmy", EITHER),
        *[("2026-11-26", order, DAY) for order in FIGURES],
        *[("2026/3/4", order, EITHER) for order in FIGURES],
        *[("26 Nov 2026", order, DAY) for order in FIGURES],
        ("26\u00a0November\u00a02026", "mdy", DAY), ("Nov 26, 2026", "dmy", DAY),
        ("4 sept 2026", "iso", date(2026, 9, 4)), (" 11/26/2026 ", "mdy", DAY),
        ("2/29/2028", "mdy", date(2028, 2, 29)),
    ],
)  # fmt: skip
def test_a_day_is_read_in_the_sites_order(text, order, day):
    assert read_day(text, order) == day


@pytest.mark.parametrize(
    ("text", "order", "words"),
    [
        ("26/11/2026", "mdy", "If it is 26 Nov 2026, write 11/26/2026."),
        ("11/26/2026", "dmy", "If it is 26 Nov 2026, write 26/11/2026."),
        ("11/26/2026", "iso", "could be 26 Nov 2026. This site writes the year first: 2026-11-26."),
        ("03/04/2026", "iso", "could be 4 Mar 2026 or 3 Apr 2026"),
        ("5/5/2026", "iso", "could be 5 May 2026. This"),
        ("13/13/2026", "iso", "no such day"),
        ("31/31/2026", "mdy", "no such day"),
        ("2/29/2026", "mdy", "no such day"),
        ("2026-02-30", "mdy", "no such day"),
        ("30 Feb 2026", "mdy", "no such day"),
        ("26 Nuv 2026", "mdy", "no such day"),
        ("3/4/26", "mdy", "four figures"),
        ("11/26-2026", "mdy", "no date"),
        ("tomorrow", "dmy", "such as 26/11/2026"),
        ("", "iso", "no date"),
    ],
)
def test_what_is_no_day_here_is_refused_with_the_reading_it_would_have(text, order, words):
    with pytest.raises(NotADay) as refused:
        read_day(text, order)
    assert words in str(refused.value)


@given(st.dates(date(1900, 1, 1), date(2100, 1, 1)), st.sampled_from(list(FIGURES)))
def test_a_day_shown_is_the_day_read(day, order):
    assert read_day(numeric_day(day, order), order) == day


@pytest.mark.parametrize(
    ("text", "is_12h", "at"),
    [
        ("14:30", True, time(14, 30)), ("14:30", False, time(14, 30)),
        ("1430", True, time(14, 30)), ("14.30", False, time(14, 30)),
        ("14h30", False, time(14, 30)), ("2:30 pm", True, time(14, 30)),
        ("2:30 pm", False, time(14, 30)), ("2:30p", True, time(14, 30)),
        ("230 p.m.", True, time(14, 30)), ("2:30\u202fPM", True, time(14, 30)),
        ("2 pm", True, time(14)), ("9a", True, time(9)), ("2:30", False, time(2, 30)),
        ("0:30", True, time(0, 30)), ("00:05", True, time(0, 5)),
        # 12 am and 12 pm as digital clocks show them; written "noon" and "midnight" by us
        ("12:00 am", True, time(0)), ("12:30 am", True, time(0, 30)), ("12 pm", True, time(12)),
        ("12:15 pm", False, time(12, 15)), ("noon", True, time(12)), ("midnight", False, time(0)),
        ("12:00 noon", True, time(12)), ("12:00 midnight", True, time(0)),
        ("02:30:15", True, time(2, 30, 15)),
    ],
)  # fmt: skip
def test_an_hour_is_read_in_either_way(text, is_12h, at):
    assert read_hour(text, is_12h=is_12h) == at


@pytest.mark.parametrize(
    ("text", "is_12h", "words"),
    [
        ("2:30", True, "2:30 am or 2:30 pm?"), ("230", True, "2:30 am or 2:30 pm?"),
        ("02:30", True, "2:30 am or 2:30 pm?"), ("12:00", True, "12:00 am or 12:00 pm?"),
        ("14:30 pm", True, "no such time"), ("0:30 am", True, "no such time"),
        ("24:00", False, "no such time"), ("9:75", False, "no such time"),
        ("9:30:75", False, "no such time"), ("13 noon", True, "only 12:00"),
        ("12:01 midnight", True, "only 12:00"), ("9", False, "such as 14:30"),
        ("half past", True, "such as 2:30 pm"), ("-1:00", False, "no time"),
    ],
)  # fmt: skip
def test_an_hour_that_could_be_another_is_asked_about(text, is_12h, words):
    with pytest.raises(NotAnHour) as refused:
        read_hour(text, is_12h=is_12h)
    assert words in str(refused.value)


@given(st.times(), st.booleans())
def test_an_hour_shown_is_the_hour_read(at, is_12h):
    at = at.replace(second=0, microsecond=0)
    assert read_hour(clock(at, is_12h=is_12h), is_12h=is_12h) == at


@pytest.mark.parametrize(
    ("at", "of_12", "of_24"),
    [
        (time(0), "12:00 midnight", "0:00"), (time(0, 1), "12:01 am", "0:01"),
        (time(9, 5), "9:05 am", "9:05"), (time(12), "12:00 noon", "12:00"),
        (time(12, 1), "12:01 pm", "12:01"), (time(23, 59), "11:59 pm", "23:59"),
    ],
)  # fmt: skip
def test_twelve_oclock_is_told_so_that_nobody_reads_the_other(at, of_12, of_24):
    """NIST, "Times of Day FAQs": 12 am and 12 pm are ambiguous, noon and midnight are not."""
    assert clock(at, is_12h=True) == of_12
    assert clock(at) == of_24
