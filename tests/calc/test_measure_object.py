"""What every measure does with two results: variant, change, direction, refusals."""

from dataclasses import replace
from datetime import date

import pytest

from assessments.calc.catalogue import BY_KEY
from assessments.calc.measure import Direction, Measure, Result, at_age, by_sex, check_age
from assessments.calc.mood import severity
from assessments.calc.peak_heart_rate import brawner, gulati
from assessments.calc.vitals import bmi_class
from patients.calc.limits import NotScorable, OutOfRange
from tests.reference import rows


def plain(direction):
    def score(inputs, person, on: date):
        return Result(1.0, "")

    return Measure("x", "X", "", (), score, direction, "1", "nowhere")


@pytest.mark.parametrize(
    ("direction", "change", "word"),
    [
        (Direction.HIGHER, 0.5, "better"),
        (Direction.HIGHER, -0.5, "worse"),
        (Direction.LOWER, 0.5, "worse"),
        (Direction.LOWER, -0.5, "better"),
        (Direction.NEITHER, 0.5, "up"),
        (Direction.NEITHER, -0.5, "down"),
        (Direction.HIGHER, 0, "same"),
        (Direction.LOWER, 0.0, "same"),
        (Direction.NEITHER, 0, "same"),
    ],
)
def test_word_for_a_change_goes_by_direction(direction, change, word):
    assert plain(direction).word_for(change) == word


def test_change_is_exact_to_three_decimals():
    # 0.1235 to three decimals; in binary 1.00 - 0.90 falls short of 0.10
    assert plain(Direction.HIGHER).change(0.0, 0.12349) == 0.123
    assert plain(Direction.HIGHER).change(0.90, 1.00) == 0.1


def test_no_equation_chosen_is_the_usual_one():
    walk = BY_KEY["six_minute_walk"]
    assert walk.variant_of({"equation": None}) == walk.variant_of({"equation": 1})
    assert walk.variant_of({"equation": 2}) != walk.variant_of({})
    grip = BY_KEY["grip_strength"]
    assert grip.equations == ()
    assert grip.variant_of({"equation": 2}) == ()
    assert plain(Direction.HIGHER).is_meaningful(5) is None
    assert plain(Direction.HIGHER).exceeds_error(5) is None


def test_helpers_refuse_by_naming_the_source():
    with pytest.raises(NotScorable, match=r"^Smith 1999 needs the sex for reference equations.$"):
        by_sex("", 1, 2, "Smith 1999")
    with pytest.raises(NotScorable, match=r"^Smith 1999 covers 20 to 59 years, not 60.$"):
        at_age([(20, 39, "a"), (40, 59, "b")], 60, "Smith 1999")
    assert [at_age([(20, 39, "a"), (40, 59, "b")], age, "") for age in (20, 39, 40, 59)] == [
        "a", "a", "b", "b",
    ]  # fmt: skip
    with pytest.raises(NotScorable, match=r"^Smith 1999 was derived for 20 to 59 years, not 19.$"):
        check_age(19, 20, 59, "Smith 1999")
    check_age(20, 20, 59, "")
    check_age(59, 20, 59, "")


@pytest.mark.parametrize("total", [-1, 28])
def test_an_impossible_questionnaire_total_names_its_limits(total):
    with pytest.raises(OutOfRange, match=rf"^PHQ-9 total {total} is outside 0 to 27.$"):
        severity(total)


def test_body_mass_index_of_binary_24_99_is_normal():
    assert bmi_class(24.999999999) == "normal weight"
    assert bmi_class(24.9999999999) == "overweight"  # what is 25 but for binary arithmetic


def test_messages_of_equations_for_a_part_of_people():
    with pytest.raises(NotScorable, match=r"^Gulati 2010 was derived in women.$"):
        gulati("male", 60)
    with pytest.raises(NotScorable, match=r"^Brawner 2004 was derived for 40 to 80 "):
        brawner(39)


def test_a_questionnaire_is_all_items():
    asked = {key for key, measure in BY_KEY.items() if measure.is_questionnaire}
    assert asked == {
        "phq9", "gad7", "activity_status", "physical_functioning", "mediterranean_diet",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("answer", "words"),
    [(0, ""), (None, ""), (1, "(1 several days)"), (3, "(3 nearly every day)"), (7, "(7)")],
)
def test_item_nine_is_told_with_its_answer(answer, words):
    said = BY_KEY["phq9"].alert({"item9": answer})
    assert words in said
    assert bool(said) is bool(words)


def test_where_only_part_of_a_scale_has_a_direction():
    pressure = BY_KEY["resting_blood_pressure"]
    assert pressure.word_for(-10, None, 110) == "better"  # a value unknown: the scale's direction
    assert pressure.word_for(-10, 120, None) == "better"
    above = replace(plain(Direction.LOWER), judged_from=130)
    assert above.word_for(-70, 150, 80) == "better"  # no lower end was named
    assert above.word_for(-10, 120, 110) == "down"


def test_meaningful_changes_and_errors_are_those_of_their_sources():
    known = {}
    for key, measure in BY_KEY.items():
        if measure.meaningful_change is not None:
            known[key, "meaningful"] = measure.meaningful_change.amount
        if measure.detectable_change is not None:
            known[key, "error"] = measure.detectable_change.amount
        if measure.substantial_change is not None:
            known[key, "substantial"] = measure.substantial_change.amount
    assert known == {
        (row["measure"], row["kind"]): float(row["amount"]) for row in rows("meaningful_changes")
    }


def test_a_substantial_change_of_gait_speed():
    """Perera 2006: 0.10 m/s; in binary 1.00 - 0.90 falls short of it."""
    gait = BY_KEY["gait_speed"]
    assert gait.is_substantial(gait.change(0.90, 1.00))
    assert not gait.is_substantial(gait.change(0.90, 0.99))
    assert not BY_KEY["six_minute_walk"].is_substantial(200)


def test_codes_of_answers_never_change():
    """Results keep the code alone: another meaning would change what was answered."""
    answers = {0: "not at all", 1: "several days", 2: "more than half the days",
               3: "nearly every day"}  # fmt: skip
    codes = {
        "leg": {1: "left", 2: "right"},
        "site": {1: "midway rib to hip bone", 2: "navel", 3: "top of the hip bone"},
        "mode": {1: "treadmill", 2: "cycle"},
        "protocol": {1: "ramp", 2: "steps", 3: "Bruce", 4: "modified Bruce", 5: "other"},
        "stopped_for": {
            1: "fatigue", 2: "dyspnea", 3: "legs", 4: "chest pain", 5: "ECG change",
            6: "blood pressure", 7: "other",
        },
        "vt1_by": {1: "V-slope", 2: "ventilatory equivalents"},
        "span": {1: "peak", 2: "second threshold"},
        "recovery": {1: "active", 2: "passive"},
        "exercise": {1: "leg press", 2: "knee extension", 3: "chest press", 4: "row", 5: "other"},
        "how": {1: "pharmacy record", 2: "the person"},
        "status": {0: "never (fewer than 100 cigarettes)", 1: "former", 2: "some days",
                   3: "every day"},
    }  # fmt: skip
    for measure in BY_KEY.values():
        for entry in measure.inputs:
            if entry.key in codes:
                assert dict(entry.options) == codes[entry.key], entry.key
            elif measure.key == "physical_functioning":
                assert dict(entry.options) == {
                    1: "1 limited a lot", 2: "2 limited a little", 3: "3 not limited",
                }  # fmt: skip
            elif measure.key in {"phq9", "gad7"}:
                assert {n: words.partition(" ")[2] for n, words in entry.options} == answers
