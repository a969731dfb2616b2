"""Values that are asked about rather than refused, and who may settle what a rule held.

Which pairs are asked about is a project choice, except where a source stands beside the case.
"""

from datetime import date

import pytest

from assessments.calc import exercise_test, lipids, strength
from programs.attendance.calc.catalogue import BY_KEY, Setting, in_force, may_be_settled
from programs.attendance.calc.rules import Settled
from programs.enrolment.calc.calendar import beyond_course, overlaps
from programs.prescription.calc.tested import why_asked
from reports.calc.verdict import Change


@pytest.mark.parametrize(
    ("peak", "after", "is_asked"),
    [(130, 129, False), (130, 130, False), (130, 131, True), (None, 131, False),
     (130, None, False)],
)  # fmt: skip
def test_rate_above_the_peak_after_a_minute_is_asked_about(peak, after, is_asked):
    # H-09: a denervated heart lags (from memory).
    given = {"peak_bpm": peak, "one_minute_bpm": after}
    assert bool(exercise_test.odd_recovery(given)) is is_asked


@pytest.mark.parametrize(
    ("given", "n"),
    [
        ({"direct_ldl": 80, "total": 180, "hdl": 50}, 0),
        ({"direct_ldl": 130, "total": 180, "hdl": 50}, 0),  # exactly non-HDL
        ({"direct_ldl": 131, "total": 180, "hdl": 50}, 1),
        ({"direct_ldl": 22, "total": 90, "hdl": 45}, 0),  # seen on strong treatment
        ({"direct_ldl": 14, "total": 90, "hdl": 45}, 1),
        ({"direct_ldl": 3.5, "total": 4.6, "hdl": 1.3, "is_mmoll": True}, 1),
        ({"total": 180, "hdl": 50}, 0),
        ({"direct_ldl": 99999}, 0),  # impossible: refused, not asked about
    ],
)
def test_ldl_beside_the_other_lipids(given, n):
    # LDL is a part of non-HDL cholesterol (definition).
    assert len(lipids.odd(given)) == n


@pytest.mark.parametrize(("reps", "is_asked"), [(None, False), (10, False), (11, True)])
def test_repetitions_beyond_the_equations(reps, is_asked):
    assert bool(strength.odd_repetitions({"reps": reps})) is is_asked


def test_a_test_of_before_the_event_or_older_than_a_year_needs_a_reason():
    event = date(2026, 1, 10)
    assert "before the event" in why_asked(date(2026, 1, 9), event, date(2026, 3, 2))
    assert why_asked(date(2026, 1, 10), event, date(2026, 3, 2)) == ""
    assert why_asked(date(2025, 3, 2), None, date(2026, 3, 2)) == ""
    assert "more than a year ago" in why_asked(date(2025, 3, 1), None, date(2026, 3, 2))
    assert why_asked(date(2024, 2, 29), None, date(2025, 2, 28)) == ""  # leap day


def test_a_verdict_reads_the_same_in_text():
    assert str(Change(25, 5.0, "same", None).verdict) == "same"


@pytest.mark.parametrize(
    ("key", "settled_by"),
    [
        ("E-01-hold", Settled.FLOOR),  # a value measured again
        ("E-30-dizzy-hold", Settled.CLINICIAN),  # a symptom taken back
        ("G-02-hold", Settled.CLINICIAN),  # no recheck settles a level 2 low
        ("E-16-event-hold", Settled.RECORD),
    ],
)
def test_who_settles_a_hold_unless_a_site_says_otherwise(key, settled_by):
    assert BY_KEY[key].settled_by is settled_by


def test_a_site_says_who_settles_a_hold():
    here = {"E-01-hold": Setting(None, settled_by=Settled.CLINICIAN)}
    rule = next(r for r in in_force(here) if r.key == "E-01-hold")
    assert (rule.settled_by, rule.limit) == (Settled.CLINICIAN, 180)
    both = {"E-01-hold": Setting(170, settled_by=Settled.CLINICIAN)}
    rule = next(r for r in in_force(both) if r.key == "E-01-hold")
    assert (rule.settled_by, rule.limit) == (Settled.CLINICIAN, 170)


@pytest.mark.parametrize(
    ("key", "may"),
    [("E-01-hold", True), ("E-30-dizzy-hold", True), ("E-01-caution", False),
     ("E-16-event-hold", False), ("no-such-rule", False)],
)  # fmt: skip
def test_which_holds_a_site_may_speak_about(key, may):
    assert may_be_settled(key) is may


# The cases with their sources stand in tests/programs/test_beyond_the_course.py.


def test_beyond_the_course_in_each_way():
    start = date(2026, 1, 5)
    assert beyond_course(36, date(2026, 9, 13), start) == ""  # day 252
    assert "after the 36 weeks" in beyond_course(36, date(2026, 9, 14), start)
    assert "beyond 36" in beyond_course(37, date(2026, 2, 2), start)


def test_classes_that_share_a_minute_overlap():
    from datetime import time

    assert overlaps(time(9), 60, time(9, 59), 30)
    assert not overlaps(time(9), 60, time(10), 30)
