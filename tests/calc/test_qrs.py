"""QRS duration in ms or in s: 1 s is 1000 ms (SI); a QRS lasts 40 to 300 ms (project limits)."""

import pytest

from programs.attendance.calc.qrs import NotAQrs, read_qrs_ms


@pytest.mark.parametrize(
    ("text", "ms"),
    [("120", 120), ("120 ms", 120), ("0.12", 120), (".12", 120), ("0,12 s", 120), ("0.115", 115),
     ("40", 40), ("0.29 sec", 290), ("0.12\u00a0s", 120), ("2 s", 2000), ("20 ms", 20)],
)  # fmt: skip
def test_a_qrs_is_read_in_the_one_unit_it_can_be(text, ms):
    assert read_qrs_ms(text) == ms


@pytest.mark.parametrize("text", ["1", "12", "39.9", "wide", "", "-0.12", "0.12 m", "1e2"])
def test_what_could_be_either_or_neither_is_refused_with_both_spans(text):
    with pytest.raises(NotAQrs, match=r"40 to 300 ms, or 0.04 to 0.3 s"):
        read_qrs_ms(text)
