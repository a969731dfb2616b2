"""Limits: this project's choice, so only that both sides of each kind are told apart."""

import pytest

from patients.calc.limits import HEART_RATE_BPM, RPE, Limit, NotScorable, OutOfRange, check_pressure


@pytest.mark.parametrize(("value", "unusual"), [(39, True), (40, False), (200, False), (201, True)])
def test_unusual_lies_outside_the_soft_limits(value, unusual):
    assert HEART_RATE_BPM.is_unusual(value) is unusual


def test_without_soft_limits_nothing_is_unusual():
    assert not RPE.is_unusual(6)
    assert not RPE.is_unusual(20)
    one_sided = Limit("x", "", 0, 10, soft_high=5)
    assert (one_sided.is_unusual(0), one_sided.is_unusual(6)) == (False, True)


@pytest.mark.parametrize("value", [19, 251, float("nan"), float("inf")])
def test_impossible_is_refused(value):
    with pytest.raises(OutOfRange, match="outside 20 to 250 /min"):
        HEART_RATE_BPM.check(value)


@pytest.mark.parametrize("pair", [(120, 120), (80, 120)])
def test_pressure_the_wrong_way_is_refused(pair):
    with pytest.raises(NotScorable, match="check the order"):
        check_pressure(*pair)
