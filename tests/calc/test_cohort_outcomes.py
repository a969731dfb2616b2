"""Who counts in what a group gained; the statistics themselves are held to scipy elsewhere."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from assessments.calc.catalogue import BY_KEY
from reports.calc.change import Point
from reports.calc.cohort import Ends, gain_of, own_error

WALK = BY_KEY["six_minute_walk"]
DAY = date(2026, 1, 5)


def walk(metres, *, course_m=30.0, day=0, version="1"):
    inputs = {"distance_m": metres, "course_m": course_m}
    return Point(metres, DAY + timedelta(days=day), version, inputs)


def test_only_results_measured_alike_are_pairs_and_the_rest_is_counted():
    # 400 to 450 (better, 25 m or more: Gremeaux 2011), 500 to 510 (too little), 300 to 260 (worse)
    pairs = [Ends(walk(400), walk(450), True), Ends(walk(500), walk(510)),
             Ends(walk(300), walk(260))]  # fmt: skip
    odd = [Ends(walk(400), walk(450, course_m=20.0)), Ends(walk(400), walk(450, version="2"))]
    unable = [Ends(walk(400), replace(walk(450), value=None))]
    missing = [Ends(walk(400), None), Ends(None, walk(450)), Ends(None, None), Ends(None, None)]
    gain = gain_of(WALK, [*pairs, *odd, *unable, *missing])
    assert (gain.n, gain.n_pairs, gain.not_compared) == (10, 3, 3)
    assert (gain.no_exit, gain.no_baseline, gain.neither) == (1, 1, 2)
    assert gain.change.mean == pytest.approx((50 + 10 - 40) / 3)
    assert (gain.reached.numerator, gain.reached.denominator) == (1, 3)


def test_fewer_seconds_are_better():
    quick = BY_KEY["timed_up_and_go"]
    gain = gain_of(quick, [Ends(_timed(15.0), _timed(10.0))])
    assert gain.change.mean == -5
    assert gain.reached is None or gain.reached.numerator == 1


def _timed(seconds):
    return Point(seconds, DAY, "1", {})


def test_nobody_gains_nothing():
    gain = gain_of(WALK, [])
    assert (gain.n, gain.n_pairs, gain.change) == (0, 0, None)


def test_where_no_meaningful_change_is_agreed_nobody_reaches_one():
    assert gain_of(replace(WALK, meaningful_change=None), [Ends(walk(1), walk(2))]).reached is None


def test_own_error_comes_from_repeats_within_a_week_measured_alike():
    # Differences 10 and -10: SD 14.142, SEM 10
    repeats = [[walk(400), walk(410, day=7)], [walk(500), walk(490, day=3)]]
    others = [[walk(400), walk(450, day=8)], [walk(400), walk(450, course_m=20.0, day=1)],
              [walk(400), replace(walk(9, day=1), value=None)], [walk(400)]]  # fmt: skip
    assert own_error(WALK, [*repeats, *others]).sem == pytest.approx(10)
    assert own_error(WALK, repeats[:1]) is None
