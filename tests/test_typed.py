"""Whole numbers out of text that anybody may have typed."""

import pytest
from django.contrib.auth import get_user_model

from patients.typed import LARGEST, whole, words


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


def test_words_lose_what_no_database_holds():
    assert words(" no longer\0 needed ") == "no longer needed"
    assert words(None) == ""


@pytest.mark.django_db
def test_a_number_beyond_every_column_is_not_among_its_rows(nurse):
    people = get_user_model().objects
    beyond = [2**63, -(2**63) - 1, int("9" * 4000)]
    assert list(people.filter(pk__in=[nurse.pk, *beyond])) == [nurse]
    assert not people.filter(pk__in=beyond).exists()
    assert people.exclude(pk__in=beyond).filter(pk=nurse.pk).exists()
