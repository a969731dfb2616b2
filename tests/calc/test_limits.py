"""Plausible inputs. No standard prescribes them: input_limits.csv is this project's own choice."""

import pytest

from patients.calc import limits
from patients.calc.limits import HEART_RATE_BPM, RPE, Limit, NotScorable, OutOfRange, check_pressure
from tests.reference import rows


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


@pytest.mark.parametrize("row", rows("input_limits"), ids=lambda r: r["limit"])
def test_limits_are_those_agreed_upon(row):
    limit = getattr(limits, row["limit"])
    found = (limit.low, limit.high, limit.soft_low, limit.soft_high)
    assert found == tuple(float(row[k]) for k in ("hard_low", "hard_high", "soft_low", "soft_high"))
