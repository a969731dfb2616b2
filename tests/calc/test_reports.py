from datetime import date

import pytest

from assessments.calc.catalogue import BY_KEY
from assessments.calc.shuttle_walk import SHUTTLE_WALK
from reports.calc.change import Change, Point, compare
from reports.calc.completion import (
    BY_KEY as DEFINITIONS,
)
from reports.calc.completion import (
    CourseFacts,
    by_month,
    by_site,
    completion_row,
    tally,
    timely_start,
)


def facts(sessions=36, **changes):
    given = {
        "site": "A",
        "starts_on": date(2026, 1, 5),
        "sessions": sessions,
        "sessions_in_36_weeks": sessions,
        "planned": 36,
        "has_exit": True,
        "has_ended": True,
        "days_to_start": 20,
    }
    return CourseFacts(**(given | changes))


@pytest.mark.parametrize(
    ("key", "course", "holds"),
    [
        ("36", facts(36), True),  # Ritchey 2020: 36 or more
        ("36", facts(35), False),
        ("36-in-36", facts(36, sessions_in_36_weeks=35), False),  # Keteyian 2022
        ("36-in-36", facts(36), True),
        ("over-75", facts(27), False),  # Burdiat 2008: more than 75 %, 27 of 36 is exactly 75 %
        ("over-75", facts(28), True),
        ("70-and-exit", facts(26), True),  # 26 of 36 is 72 %
        ("70-and-exit", facts(25), False),
        ("70-and-exit", facts(7, planned=10), True),  # exactly 70 %
        ("70-and-exit", facts(36, has_exit=False), False),
    ],
)
def test_definitions_at_their_boundaries(key, course, holds):
    assert DEFINITIONS[key].holds(course) is holds


def test_denominator_is_starters_whose_course_ended():
    people = [
        facts(36),
        facts(10),
        facts(12, has_ended=False),
        facts(0),
        facts(0, has_ended=False),
    ]
    row = completion_row("x", tally(people, 21), DEFINITIONS["36"])
    assert (row.completed.numerator, row.completed.denominator) == (1, 2)
    assert (row.n_in_program, row.n_never_started) == (1, 1)


def test_months_and_sites_are_grouped():
    people = [facts(), facts(starts_on=date(2025, 12, 30)), facts(10, site="B")]
    cohorts = tally(people, 21)
    months = by_month(cohorts, DEFINITIONS["36"])
    assert [(r.label, r.completed.numerator, r.completed.denominator) for r in months] == [
        ("Dec 2025", 1, 1),
        ("Jan 2026", 1, 2),
    ]
    assert [r.label for r in by_site(cohorts, DEFINITIONS["36"])] == ["A", "B"]


def test_timely_start_counts_day_21_and_starters_only():
    people = [
        facts(days_to_start=21),
        facts(days_to_start=22),
        facts(0, days_to_start=None),
        facts(days_to_start=None),
    ]
    share = timely_start(tally(people, 21))
    assert (share.numerator, share.denominator) == (1, 2)


WALK = BY_KEY["six_minute_walk"]


def point(value, **changes):
    given = {"performed_on": date(2026, 1, 5), "version": "enright98-1", "inputs": {"course_m": 30}}
    return Point(value, **(given | changes))


def test_change_is_after_minus_before():
    row = compare(WALK, {"baseline": point(400), "exit": point(460)})
    change = row.changes["exit"]
    assert (change.amount, change.percent, change.word) == (60, 15, "better")
    assert change.is_meaningful
    assert row.newest is not None
    assert row.newest.change_words == "+60"


def test_missing_stage_stays_missing():
    row = compare(WALK, {"baseline": point(400)})
    assert [cell.value for cell in row.cells] == ["400", "", ""]
    assert row.newest is None


def test_no_change_without_baseline():
    row = compare(WALK, {"exit": point(460)})
    assert not row.changes
    assert row.newest is not None  # and what was measured is shown
    assert (row.newest.value, row.newest.change, row.newest.change_words) == ("460", None, "")


def test_not_able_is_not_a_number():
    row = compare(WALK, {"baseline": point(None), "exit": point(460)})
    assert row.cells[0].value == "not able"
    assert not row.changes


@pytest.mark.parametrize(
    ("later", "words"),
    [
        (point(460, version="other-1"), "different equations"),
        (point(460, inputs={"course_m": 20}), "variant"),
        (point(460, is_in_range=False), "validated range"),
    ],
)
def test_comparisons_that_limp_say_so(later, words):
    assert words in compare(WALK, {"baseline": point(400), "exit": later}).changes["exit"].caution


def test_loss_is_shown_with_a_minus_sign_and_nothing_as_zero():
    worse = compare(WALK, {"baseline": point(400), "exit": point(390)})
    same = compare(WALK, {"baseline": point(400), "exit": point(400.2)})
    assert worse.newest is not None
    assert worse.newest.change_words == "−10"
    assert same.newest is not None
    assert same.newest.change_words == "0"


@pytest.mark.parametrize(
    ("gain", "meaningful", "beyond_error"),
    # Houchen-Wolloff 2015: 70 m; Heart Lung Circ 2018: smallest detectable change 47 m
    [(40, False, False), (50, False, True), (70, True, True), (-47, False, True)],
)
def test_shuttle_change_beside_meaning_and_error(gain, meaningful, beyond_error):
    def point(value, day):
        return Point(value, day, "twelve-levels-1", {})

    row = compare(
        SHUTTLE_WALK,
        {
            "baseline": point(300, date(2026, 1, 5)),
            "exit": point(300 + gain, date(2026, 4, 1)),
        },
    )
    change = row.changes["exit"]
    assert (change.is_meaningful, change.exceeds_error) == (meaningful, beyond_error)


@pytest.mark.parametrize(
    ("before", "after", "marked"),
    [({}, {"equation": 1}, False), ({}, {"equation": 2}, True), ({"equation": 2}, {}, True)],
)
def test_comparison_across_equations_is_marked(before, after, marked):
    """No equation chosen is the usual one, the first of the list."""
    row = compare(
        SHUTTLE_WALK,
        {
            "baseline": Point(300, date(2026, 1, 5), "twelve-levels-1", before),
            "exit": Point(380, date(2026, 4, 1), "twelve-levels-1", after),
        },
    )
    assert bool(row.changes["exit"].caution) is marked


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (Change(0, None, "same", None), "same"),
        (Change(56, 13, "better", True), "better, meaningful"),
        (Change(10, 2, "better", False), "better, below meaningful"),
        (
            Change(0.1, 12, "better", True, is_substantial=True),
            "better, meaningful and substantial",
        ),
        (Change(-3, -4, "worse", None, False), "within measurement error"),
        (
            Change(30, 7, "better", True, False),
            "better, as much as has mattered to patients; measuring twice can differ by as much",
        ),
        (Change(-6, -4, "down", None, True), "down"),
        (
            Change(30, 7, "better", True, False, error_population="heart failure"),
            "better, as much as has mattered to patients; measuring twice can differ by as much"
            " (error found in heart failure)",
        ),
        (
            Change(20, 5, "better", False, False, error_population="heart failure"),
            "within measurement error",
        ),
        (
            Change(56, 13, "better", True, True, "not the same variant of the test"),
            "not compared: not the same variant of the test",
        ),
    ],
)
def test_a_change_has_one_verdict_for_every_page(change, said):
    """What is concluded from what is a project choice; "meaningful" and "error" per measure."""
    assert change.verdict.words == said


def test_two_populations_are_named_only_where_they_differ():
    """Gremeaux 2011 in coronary disease, Shoemaker in heart failure; the shuttle walk in one."""
    assert WALK.error_population == "heart failure"
    assert SHUTTLE_WALK.error_population == ""


@pytest.mark.parametrize(
    ("key", "first", "last", "shown"),
    [
        # by hand: 25.26 - 25.04 = 0.22; with one decimal 25.0, 25.3 and 0.2 would not agree
        ("body_mass_index", 25.04, 25.26, ("25.04", "25.26", "+0.22")),
        ("body_mass_index", 25.04, 25.24, ("25.0", "25.2", "+0.2")),
        ("body_mass_index", 25.26, 25.04, ("25.26", "25.04", "−0.22")),
        ("six_minute_walk", 400.4, 460.6, ("400.4", "460.6", "+60.2")),
        ("six_minute_walk", 400.0, 400.2, ("400", "400", "0")),
        # 0.2112: no rounding agrees up to three decimals; then the shown ones still do
        ("body_mass_index", 25.0444, 25.2556, ("25.044", "25.256", "+0.212")),
    ],
)
def test_baseline_result_and_change_agree_as_shown(key, first, last, shown):
    row = compare(BY_KEY[key], {"baseline": point(first), "exit": point(last)})
    assert row.newest is not None
    assert (row.baseline.value, row.newest.value, row.newest.change_words) == shown


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [(3, 1, "better"), (1, 2, "worse"), (1, 0, "changed"), (0, 1, "changed"), (1, 1, "same")],
)
def test_a_category_is_a_word_and_never_a_number(before, after, said):
    """Somebody who stopped smoking is better off; "never" after "former" is no gain."""
    words = {0: "never (fewer than 100 cigarettes)", 1: "former", 2: "some days", 3: "every day"}
    row = compare(BY_KEY["tobacco"], {"baseline": point(before), "exit": point(after)})
    assert row.newest is not None
    assert row.newest.change is not None
    assert (row.baseline.value, row.newest.value) == (words[before], words[after])
    assert row.newest.change_words == ""
    assert row.newest.change.verdict.words == said


def test_what_is_not_compared_shows_no_difference():
    row = compare(WALK, {"baseline": point(400), "exit": point(456, inputs={"course_m": 20})})
    assert row.newest is not None
    assert row.newest.change_words == ""
