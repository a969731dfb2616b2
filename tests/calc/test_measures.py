"""What each measure says: both sides of every cut-off, half-filled forms, wrong units.

Expected is ``=value``, ``~part of the words``, ``!part that must not be there``, ``label value`` of
something derived, ``remark part``, ``no remark part``, ``marked``, ``not marked``, ``no words``,
``refused``, or the words themselves.
"""

from datetime import date

import pytest

from assessments.calc.catalogue import BY_KEY, MEASURES
from patients.calc.limits import NotScorable, OutOfRange
from patients.calc.person import Person
from tests.reference import rows

ON = date(2026, 6, 15)


def person(text: str) -> Person:
    sex, age = text.split()
    return Person(date(ON.year - int(age), 1, 1), "" if sex == "none" else sex)


def inputs(measure, text: str) -> dict:
    typed = dict(token.split("=") for token in text.split())
    found = {}
    for entry in measure.inputs:
        word = typed.pop(entry.key, None)
        found[entry.key] = (
            None if word is None else word == "yes" if word in {"yes", "no"} else float(word)
        )
    assert not typed, f"{measure.key} has no {typed}"
    return found


@pytest.mark.parametrize(
    "row",
    [*rows("measures"), *rows("norm_tables")],
    ids=lambda r: f"{r['measure']} {r['given']} {r['who']}",
)
def test_measure_says_what_its_source_says(row):
    measure, expected = BY_KEY[row["measure"]], row["expected"]
    typed, who = inputs(measure, row["given"]), person(row["who"])
    if expected == "refused":
        with pytest.raises((NotScorable, OutOfRange)):
            measure.score(typed, who, ON)
        return
    result = measure.score(typed, who, ON)
    derived = {d.label: d.value for d in result.derived}
    label, _, amount = expected.rpartition(" ")
    if expected == "no words":
        assert not result.interpretation
    elif expected in {"marked", "not marked"}:
        assert result.is_in_range is (expected == "not marked")
    elif expected.startswith("="):
        assert result.value == pytest.approx(float(expected[1:]), abs=0.005)
    elif expected.startswith("~"):
        assert expected[1:] in result.interpretation
    elif expected.startswith("!"):
        assert expected[1:] not in result.interpretation
    elif expected.startswith("remark "):
        assert any(expected.removeprefix("remark ") in remark for remark in result.remarks)
    elif expected.startswith("no remark "):
        assert not any(expected.removeprefix("no remark ") in r for r in result.remarks)
    elif label in derived:
        half = 0.5 * 10 ** -len(amount.partition(".")[2])  # of the last digit the source prints
        assert derived[label] == pytest.approx(float(amount), abs=half)
    else:
        assert result.interpretation == expected


def test_every_row_has_a_source_and_none_stands_twice():
    table = rows("measures")
    assert all(row["source"] for row in table)
    keys = [(r["measure"], r["given"], r["who"], r["expected"]) for r in table]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("measure", MEASURES, ids=lambda m: m.key)
def test_measure_is_whole(measure):
    """What forms, storage and comparison rely on."""
    keys = [entry.key for entry in measure.inputs]
    assert len(keys) == len(set(keys))
    assert set(measure.variant_inputs) <= set(keys)
    assert measure.citation
    assert len(measure.unit) <= 20
    assert len(measure.version) <= 40
    for entry in measure.inputs:
        assert (entry.limit is not None) + bool(entry.options) + entry.is_yes_no == 1


@pytest.mark.parametrize("measure", MEASURES, ids=lambda m: m.key)
def test_nothing_typed_is_never_a_result(measure):
    empty = dict.fromkeys(entry.key for entry in measure.inputs)
    try:
        result = measure.score(empty, person("male 60"), ON)
    except (NotScorable, OutOfRange):
        return
    pytest.fail(f"{measure.key} scores {result.value} from nothing")


def test_no_agreed_change_is_no_verdict():
    """Missing knowledge is no answer: neither meaningful nor below it."""
    diet = BY_KEY["mediterranean_diet"]
    assert diet.is_meaningful(3) is None
    assert diet.exceeds_error(3) is None


def test_every_measure_has_a_case_that_scores_and_one_that_is_refused():
    said = {row["measure"] for row in rows("measures") if row["expected"] != "refused"}
    refused = {row["measure"] for row in rows("measures") if row["expected"] == "refused"}
    keys = {measure.key for measure in MEASURES}
    assert keys - said == set()
    assert keys - refused == set()
    assert all(row["source"] for row in rows("measures"))
