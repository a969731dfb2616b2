"""Who counts in what a group gained; the statistics themselves are held to scipy elsewhere."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from assessments.calc.catalogue import BY_KEY
from reports.calc.change import Point
from reports.calc.cohort import Ends, course_gain, gain_of, own_error, tally_of

WALK = BY_KEY["six_minute_walk"]
DAY = date(2026, 1, 5)


def walk(metres, *, course_m=30.0, day=0, version="1"):
    inputs = {"distance_m": metres, "course_m": course_m}
    return Point(metres, DAY + timedelta(days=day), version, inputs)


def course(baseline=None, last=None):
    ends = {"baseline": baseline, "exit": last}
    return [(kind, point) for kind, point in ends.items() if point is not None]


def gained(measure, courses):
    """Courses without any result of the measure have no row of their own."""
    tally = tally_of([course_gain(measure, results) for results in courses if results])
    return gain_of(measure, len(courses), tally)


def test_only_results_measured_alike_are_pairs_and_the_rest_is_counted():
    # 400 to 450 (better, 25 m or more: Gremeaux 2011), 500 to 510 (too little), 300 to 260 (worse)
    pairs = [course(walk(400), walk(450)), course(walk(500), walk(510)),
             course(walk(300), walk(260))]  # fmt: skip
    odd = [course(walk(400), walk(450, course_m=20.0)), course(walk(400), walk(450, version="2"))]
    unable = [course(walk(400), replace(walk(450), value=None))]
    missing = [course(walk(400)), course(None, walk(450)), course(), [("six_weeks", walk(430))]]
    gain = gained(WALK, [*pairs, *odd, *unable, *missing])
    assert (gain.n, gain.n_pairs, gain.not_compared) == (10, 3, 3)
    assert (gain.no_exit, gain.no_baseline, gain.neither) == (1, 1, 2)
    assert gain.change.mean == pytest.approx((50 + 10 - 40) / 3)
    assert (gain.reached.numerator, gain.reached.denominator) == (1, 3)


def test_one_course_is_kept_with_what_its_figures_need():
    found = course_gain(WALK, [*course(walk(400), walk(450)), ("informal", walk(470, day=2))])
    assert (found.ends, found.first, found.change, found.reached) == (Ends.PAIR, 400, 50, True)
    assert found.again == 50  # the first two within a week, whatever their kind
    alone = course_gain(WALK, course(walk(400)))
    assert (alone.ends, alone.first, alone.change, alone.again) == (Ends.NO_EXIT, None, None, None)


def test_two_groups_add_up_to_everybody():
    here = [course(walk(400), walk(450)), course(walk(500), walk(510)), course(walk(390))]
    there = [course(walk(300), walk(260)), course(None, walk(450))]
    tallies = [
        tally_of([course_gain(WALK, results) for results in group])
        for group in (here, there, here + there)
    ]
    assert tallies[0] + tallies[1] == tallies[2]


def test_fewer_seconds_are_better():
    quick = BY_KEY["timed_up_and_go"]
    gain = gained(quick, [course(_timed(15.0), _timed(10.0))])
    assert gain.change.mean == -5
    assert gain.reached is None or gain.reached.numerator == 1


def _timed(seconds):
    return Point(seconds, DAY, "1", {})


def test_nobody_gains_nothing():
    gain = gained(WALK, [])
    assert (gain.n, gain.n_pairs, gain.change) == (0, 0, None)


def test_where_no_meaningful_change_is_agreed_nobody_reaches_one():
    unagreed = replace(WALK, meaningful_change=None)
    assert gained(unagreed, [course(walk(1), walk(2))]).reached is None


def test_own_error_comes_from_repeats_within_a_week_measured_alike():
    # Differences 10 and -10: SD 14.142, SEM 10
    repeats = [[walk(400), walk(410, day=7)], [walk(500), walk(490, day=3)]]
    others = [[walk(400), walk(450, day=8)], [walk(400), walk(450, course_m=20.0, day=1)],
              [walk(400), replace(walk(9, day=1), value=None)], [walk(400)]]  # fmt: skip

    def error(people):
        kinds = ("baseline", "informal")
        gains = [course_gain(WALK, list(zip(kinds, points, strict=False))) for points in people]
        return own_error(tally_of(gains))

    assert error([*repeats, *others]).sem == pytest.approx(10)
    assert error(repeats[:1]) is None
