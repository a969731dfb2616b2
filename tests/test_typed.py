"""Whole numbers out of text that anybody may have typed."""

import pytest

from patients.typed import LARGEST, whole


@pytest.mark.parametrize(
    ("text", "number"),
    [("0", 0), ("7", 7), ("007", 7), (str(LARGEST), 2**63 - 1)],
)
def test_a_number_is_read(text, number):
    assert whole(text) == number


@pytest.mark.parametrize(
    "text",
    [None, "", "-1", "+1", "1.0", "1e3", " 1", "1_0", "²", "٣", "1\0", str(2**63), "9" * 5000],
)
def test_what_no_row_could_have_is_no_number(text):
    assert whole(text) is None
