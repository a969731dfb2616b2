"""Which signatures were due: every 30 days (42 CFR 410.49(b)(2)(v)); worked by hand."""

from datetime import date, timedelta

import pytest

from reports.calc.signatures import due_signatures

START = date(2026, 1, 5)


def day(n):
    return START + timedelta(days=n)


@pytest.mark.parametrize(
    ("signed", "closed", "expected"),
    [
        # Before the first session, then within 30 days of each: all in time, the next lies ahead.
        ([-2, 28, 58], None, [(-2, True), (28, True), (58, True), (88, False)]),
        ([0, 30], None, [(0, True), (30, True), (60, False)]),  # the thirtieth day is in time
        # A day late counts on the day it was due, and the 30 days begin with it.
        ([0, 31], None, [(0, True), (30, False), (61, False)]),
        ([3], None, [(0, False), (33, False)]),
        ([], None, [(0, False)]),
        # Nothing is due once the course has ended, on the day it is due or before.
        ([0, 30], 60, [(0, True), (30, True)]),
        ([0, 30], 61, [(0, True), (30, True), (60, False)]),
        ([], 0, []),
        # Paperwork after the end: late where it was due before, else none of the course's.
        ([0, 70], 40, [(0, True), (30, False)]),
        ([0, 70], 30, [(0, True)]),
        ([0, 25, 28], 28, [(0, True), (25, True)]),
        ([40, 0], None, [(0, True), (30, False), (70, False)]),  # in whatever order they are told
    ],
)
def test_each_signature_counts_once(signed, closed, expected):
    found = due_signatures(START, None if closed is None else day(closed), map(day, signed))
    assert [(one.counts_on, one.is_in_time) for one in found] == [
        (day(n), in_time) for n, in_time in expected
    ]
