from itertools import product

import pytest

from reports.calc.small_cells import LEAST, may_tell_share, told


@pytest.mark.parametrize(
    ("counts", "found"),
    [
        ([], []),
        ([20, 30], [True, True]),
        ([20, 0], [True, True]),
        ([10, 30, 40], [False, False, True]),  # 10 alone is the total less the others
        ([5, 6, 40], [False, False, True]),
        ([3, 4, 40, 50], [False, False, False, True]),  # together 7: still few
        ([9], [False]),
        ([4, 0, 0], [False, False, False]),
        ([11, 12], [True, True]),
    ],
)
def test_a_small_cell_takes_its_partner(counts, found):
    assert told(counts) == found


def test_nobody_small_can_be_worked_out_from_the_total():
    for counts in product([0, 1, 5, 10, 11, 30], repeat=3):
        shown = told(counts)
        hidden = [n for n, is_told in zip(counts, shown, strict=True) if not is_told]
        assert all(n == 0 or n >= LEAST for n, t in zip(counts, shown, strict=True) if t)
        if hidden:
            assert len(hidden) > 1
            assert sum(hidden) >= LEAST or all(not t for t in shown)


@pytest.mark.parametrize(
    ("numerator", "denominator", "may"),
    [(11, 22, True), (10, 40, False), (40, 50, False), (0, 20, True), (9, 9, False)],
)
def test_a_share_is_told_when_neither_side_is_small(numerator, denominator, may):
    assert may_tell_share(numerator, denominator) == may
