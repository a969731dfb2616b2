"""Paired change, tails and quantiles against scipy and numpy, limits against statsmodels."""

import random
from collections import Counter

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from patients.calc.limits import NotScorable, OutOfRange
from reports.calc import control
from reports.calc.paired import paired_change, repeat_error, sums_of
from reports.calc.proportion import Proportion
from reports.calc.spread import dots, quantile, spread_of
from reports.calc.tails import chi_square_tail, t_975


def test_tails_agree_with_scipy():
    for degrees in [*range(1, 80), 200, 5000]:
        assert t_975(degrees) == pytest.approx(stats.t.ppf(0.975, degrees), rel=1e-7)
    for degrees in range(1, 12):
        for x in (0, 0.3, 1, 3.84, 12, 60):
            assert chi_square_tail(x, degrees) == pytest.approx(
                stats.chi2.sf(x, degrees), rel=1e-9, abs=1e-300
            )


@pytest.mark.parametrize(("x", "degrees"), [(-1, 1), (1, 0)])
def test_impossible_tails_are_refused(x, degrees):
    with pytest.raises(OutOfRange):
        chi_square_tail(x, degrees)
    with pytest.raises(OutOfRange):
        t_975(0)


@pytest.mark.parametrize("n", [2, 3, 17, 120])
def test_paired_change_agrees_with_scipy(n):
    rng = random.Random(n)
    pairs = [(rng.gauss(400, 80), rng.gauss(440, 80)) for _ in range(n)]
    first, second = (np.array(side) for side in zip(*pairs, strict=True))
    low, high = stats.ttest_rel(second, first).confidence_interval(0.95)
    found = paired_change(pairs)
    assert (found.n, found.mean) == (n, pytest.approx((second - first).mean()))
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-6)
    changes = second - first
    assert found.effect == pytest.approx(changes.mean() / stats.tstd(first))
    assert found.response == pytest.approx(changes.mean() / stats.tstd(changes))


def test_few_people_have_no_interval_and_no_size():
    assert paired_change([]) is None
    alone = paired_change([(400, 430)])
    assert (alone.mean, alone.low, alone.high, alone.effect) == (30, None, None, None)
    alike = paired_change([(400, 430), (400, 430)])
    assert (alike.low, alike.high, alike.effect, alike.response) == (30, 30, None, None)


@pytest.mark.parametrize("value", [430.1, 0.1, 1 / 3, 98765.4321])
def test_alike_results_of_many_have_no_spread(value):
    """What is left of their sums is rounding, and an effect over it would be huge."""
    assert sums_of([value] * 10_007).spread == 0


@pytest.mark.parametrize(("mean", "sd"), [(430, 80), (72.4, 0.5), (0, 3)])
def test_a_spread_from_sums_agrees_with_numpy(mean, sd):
    values = np.random.default_rng(7).normal(mean, sd, 20_000)
    assert sums_of(values).spread == pytest.approx(np.std(values, ddof=1), rel=1e-9)


def test_own_error_of_measuring_is_worked_by_hand():
    # Differences 10, -10, 20, 0: mean 5, variance (25+225+225+25)/3, SD 12.910, SEM 9.129
    found = repeat_error([(400, 410), (500, 490), (300, 320), (450, 450)])
    assert (found.n, found.shift) == (4, 5)
    assert found.sem == pytest.approx(9.1287, abs=1e-4)
    assert found.mdc95 == pytest.approx(25.303, abs=1e-3)
    with pytest.raises(NotScorable):
        repeat_error([(400, 410)])


def test_quantiles_agree_with_numpy():
    for seed in range(6):
        rng = random.Random(seed)
        days = [rng.randrange(1, 60) for _ in range(1 + 7 * seed)]
        for share in (0, 0.1, 0.25, 0.5, 0.75, 1):
            assert quantile(Counter(days), share) == pytest.approx(np.quantile(days, share))
    assert spread_of({}) is None
    assert (spread_of({20: 2}).n, spread_of({20: 2}).median) == (2, 20)
    with pytest.raises(OutOfRange):
        quantile({1: 1}, 1.1)


def test_a_dot_is_never_a_person():
    assert dots(dict.fromkeys(range(19), 1)) == []
    found = dots(dict.fromkeys(range(20), 2))
    assert len(found) == 20
    assert found == sorted(found)


def test_limits_of_a_share_agree_with_statsmodels():
    for centre, n in [(0.5, 20), (0.24, 148), (0.03, 12), (0.97, 40)]:
        beyond = 2 * (1 - stats.norm.cdf(3))  # three standard errors on either side
        low, high = proportion_confint(centre * n, n, alpha=beyond, method="normal")
        assert control.p_limits(centre, n) == pytest.approx((max(0, low), min(1, high)), abs=1e-12)
    with pytest.raises(OutOfRange):
        control.p_limits(1.2, 10)
    with pytest.raises(OutOfRange):
        control.p_limits(0.5, 0)


def months(*values, start=0):
    return [(start + n, Proportion(value, 100)) for n, value in enumerate(values)]


BEFORE = months(*[50] * 12)


@pytest.mark.parametrize(
    ("judged", "word", "said"),
    [
        ([50, 52, 48, 61], "no change", "Each month within its limits."),
        ([50, 66, 50], "higher", "1 month over the limit from the year before."),  # limit 65
        ([34, 50, 33], "lower", "2 months under the limit from the year before."),  # limit 35
        ([51] * 8, "higher", "8 months in a row over the centre of the year before."),
        ([49] * 9, "lower", "9 months in a row under the centre of the year before."),
        ([51] * 7, "no change", "Each month within its limits."),
        ([70, 30], "unsteady", "Unsteady: months outside the limits on both sides."),
        ([], "", "No month to judge yet."),
    ],
)
def test_a_run_is_judged_by_the_year_before(judged, word, said):
    run = control.shares(BEFORE, months(*judged, start=12))
    assert (run.word, run.sentence, run.centre) == (word, said, 0.5)


def test_a_month_without_people_breaks_no_run_and_has_no_limits():
    rest = [(n, Proportion(0, 0) if n == 4 else Proportion(51, 100)) for n in range(9)]
    run = control.shares(BEFORE, rest)
    assert run.word == "higher"
    empty = run.months[4]
    assert (empty.value, empty.low, empty.is_signal) == (None, None, False)


def test_a_run_ends_where_the_side_changes():
    run = control.shares(BEFORE, months(*[51] * 5, *[49] * 5))
    assert run.word == "no change"


def test_too_few_months_set_no_limits():
    run = control.shares(months(50, 50), months(90))
    assert (run.word, run.centre, run.months[0].low) == ("", None, None)
    assert control.values([(1, 30.0, 5)], [(2, 20.0, 5)]).word == ""


def test_single_values_are_judged_by_the_mean_moving_range():
    # 30 and 34 in turn: centre 32, every move 4, half-width 2.66 x 4 = 10.64
    before = [(n, 30.0 + 4 * (n % 2), 9) for n in range(12)]
    run = control.values(before, [(12, 21.0, 9), (13, None, 0), (14, 42.0, 9)])
    assert run.centre == 32
    assert (run.months[0].low, run.months[0].high) == pytest.approx((21.36, 42.64))
    assert (run.word, run.months[0].is_signal, run.months[2].is_signal) == ("lower", True, False)
