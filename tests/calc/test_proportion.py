import pytest
from statsmodels.stats.proportion import proportion_confint

from patients.calc.limits import NotScorable, OutOfRange
from reports.calc.proportion import Proportion, wilson


@pytest.mark.parametrize(
    ("x", "n"), [(18, 24), (0, 10), (10, 10), (1, 1), (0, 1), (26, 100), (2690, 10000), (7, 13)]
)
def test_wilson_agrees_with_statsmodels(x, n):
    assert wilson(x, n) == pytest.approx(proportion_confint(x, n, method="wilson"), abs=1e-12)


def test_wilson_agrees_with_the_worked_example():
    # 18 of 24: 0.5510 to 0.8800
    low, high = wilson(18, 24)
    assert (round(low, 4), round(high, 4)) == (0.5510, 0.8800)


def test_nobody_has_no_share():
    nobody = Proportion(0, 0)
    assert (nobody.share, nobody.interval, nobody.percent, nobody.percent_interval) == (None,) * 4
    with pytest.raises(NotScorable):
        wilson(0, 0)


@pytest.mark.parametrize(("x", "n"), [(5, 4), (-1, 4)])
def test_more_than_all_is_refused(x, n):
    with pytest.raises(OutOfRange):
        Proportion(x, n)
    with pytest.raises(OutOfRange):
        wilson(x, n)
