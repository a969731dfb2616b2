"""How fast passwords may be tried: common practice, no source."""

import pytest

from programs.staff.calc.pace import wait_seconds


@pytest.mark.parametrize(
    ("n_wrong", "since_s", "is_crowded", "wait_s"),
    [
        (0, 0, False, 0),
        (14, 0, False, 0),
        (15, 0, False, 30),
        (15, 29.5, False, 1),
        (15, 30, False, 0),
        (16, 0, False, 60),
        (17, 0, False, 120),
        (20, 0, False, 900),  # 30 x 2^5 = 960, never above a quarter of an hour
        (5000, 0, False, 900),
        (5000, 899.9, False, 1),
        (5000, 900, False, 0),
        (5000, 24 * 3600, False, 0),
        (0, 0, True, 0),  # the first from a new place is always looked at
        (1, 0, True, 30),
        (2, 0, True, 60),
        (7, 0, True, 900),
    ],
)
def test_wait(n_wrong, since_s, is_crowded, wait_s):
    assert wait_seconds(n_wrong, since_s, is_crowded=is_crowded) == wait_s
