"""Intervals of counts against the chi-square quantiles of scipy (Garwood 1936)."""

import pytest
from scipy import stats

from patients.calc.limits import OutOfRange
from reports.calc.poisson import Rate, count_interval


@pytest.mark.parametrize("n", [0, 1, 2, 7, 14, 61, 200])
def test_interval_of_a_count_is_exact(n):
    low = stats.chi2.ppf(0.025, 2 * n) / 2 if n else 0
    assert count_interval(n) == pytest.approx((low, stats.chi2.ppf(0.975, 2 * n + 2) / 2), rel=1e-9)


@pytest.mark.parametrize("n", [201, 4118, 250_000])
def test_interval_of_many_is_right_to_four_digits(n):
    exact = stats.chi2.ppf(0.025, 2 * n) / 2, stats.chi2.ppf(0.975, 2 * n + 2) / 2
    assert count_interval(n) == pytest.approx(exact, rel=1e-4)


def test_rates_are_per_thousand_hours():
    # Nothing in 3,905 hours: up to 3.689 / 3.905 (chi-square 0.975, 2 degrees: 7.378)
    none = Rate(0, 3905)
    assert none.per_1000 == 0
    assert none.interval == pytest.approx((0, 0.9447), abs=1e-4)
    assert Rate(14, 3905).per_1000 == pytest.approx(3.585, abs=1e-3)
    assert (Rate(3, 0).per_1000, Rate(3, 0).interval) == (None, None)
    with pytest.raises(OutOfRange):
        count_interval(-1)
