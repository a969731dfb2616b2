"""What people are found by. Which letters and marks belong together is Unicode's (UAX #15)."""

from datetime import date

import pytest

from patients.calc.find import keys_of, plain_words, take_days, typed_words


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("Müller", ["muller"]),  # U+00FC is u and U+0308
        ("MULLER", ["muller"]),
        ("Mu\u0308ller", ["muller"]),  # typed as two
        ("Straße", ["strasse"]),  # Unicode case folding
        ("Łukasz Sørensen", ["lukasz", "sorensen"]),
        ("Đặng", ["dang"]),
        ("O’Neill-Ashe", ["o", "neill", "ashe"]),
        ("d'Arcy  van der Berg", ["d", "arcy", "van", "der", "berg"]),
        ("Ива\u0301нов", ["иванов"]),
        ("大野", ["大野"]),
        ("A_1023/7", ["a", "1023", "7"]),
        (" - ' ", []),
        ("", []),
    ],
)
def test_words_are_plain(typed, words):
    assert plain_words(typed) == words


def test_somebody_is_found_at_each_beginning():
    keys = keys_of("Anne-Marie", "van der O’Neill", "NB-10/23", "+1 (208) 555-2010")
    assert keys == {
        "annemarie", "marie",
        "vanderoneill", "deroneill", "oneill", "neill",
        "nb1023", "1023", "23",
        "12085552010", "2085552010", "5552010", "2010",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("O’Neill anne", ["oneill", "anne"]),
        ("(208) 555-2010", ["2085552010"]),
        ("208 555 2010 Anne", ["2085552010", "anne"]),
        ("NB 10/23", ["nb", "1023"]),
        ("Lindqvist, Ada", ["lindqvist", "ada"]),
        (" - ", []),
    ],
)
def test_what_is_typed_is_run_together_between_spaces(typed, words):
    assert typed_words(typed) == words


def test_short_ends_of_a_phone_find_nobody():
    assert keys_of("", "", "", "555 12") == {"55512"}
    assert keys_of("", "", "", "") == frozenset()


@pytest.mark.parametrize(
    ("typed", "days"),
    [
        ("1958-03-02", {date(1958, 3, 2)}),
        ("2.3.1958", {date(1958, 3, 2)}),
        ("3/2/1958", {date(1958, 3, 2), date(1958, 2, 3)}),  # either order
        ("13/2/1958", {date(1958, 2, 13)}),
        ("2 Mar 1958", {date(1958, 3, 2)}),
        ("March 2, 1958", {date(1958, 3, 2)}),
        ("29.2.1957", set()),  # no such day
        ("2 Foo 1958", set()),
        ("1958", set()),
    ],
)
def test_a_whole_date_is_a_birth_date(typed, days):
    assert take_days(typed)[0] == days


def test_a_date_among_words_leaves_the_words():
    days, rest = take_days("Lindqvist 1958-03-02 Ada")
    assert (days, rest.split()) == ({date(1958, 3, 2)}, ["Lindqvist", "Ada"])
    assert take_days("Lindqvist 31.2.1958") == (frozenset(), "Lindqvist 31.2.1958")
