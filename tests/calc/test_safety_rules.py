"""Every configured rule: at its limit, one step on either side, and with the reading missing."""

import pytest

from programs.attendance.calc.readings import Effort, Readings
from programs.attendance.calc.rules import (
    RULES,
    Level,
    Phase,
    evaluate,
    in_words,
)
from tests.reference import rows


def readings(facts: str, value: str) -> Readings:
    given: dict = {
        "has_heart_failure": "heart failure" in facts,
        "has_new_symptoms": "symptoms" in facts,
        "uses_insulin": "insulin" in facts,
        "has_exercised": True,
    }
    efforts = []
    for part in value.split():
        name, number = part.split("=")
        if name == "effort":
            pressure, mets = number.split("@")
            systolic, _, diastolic = pressure.partition("/")
            lower = float(diastolic) if diastolic else None
            efforts.append(Effort(float(systolic), float(mets), lower))
        elif name == "earlier":
            given["weights_last_3_days_kg"] = (float(number),)
        elif name == "couplets":
            given["has_couplets_or_triplets"] = number == "yes"
        else:
            given[name] = float(number)
    return Readings(efforts=tuple(efforts), **given)


@pytest.mark.parametrize("row", rows("safety_rules"))
def test_rule_triggers_as_its_source_says(row):
    found = evaluate(RULES, readings(row["facts"], row["value"]))
    levels = [f.level.word for f in found.findings if f.rule_id == row["rule"]]
    assert levels == ([row["expected"]] if row["expected"] else [])


def test_every_rule_has_rows_on_both_sides():
    seen = {(row["rule"], bool(row["expected"])) for row in rows("safety_rules")}
    assert {rule.id for rule in RULES} == {rule for rule, _ in seen}
    assert all((rule.id, side) in seen for rule in RULES for side in (True, False))


def test_missing_readings_are_named_never_taken_as_normal():
    found = evaluate(RULES, Readings(uses_insulin=True, has_heart_failure=True))
    assert not found.findings
    assert {m.rule_id for m in found.missing} == {
        *["E-01", "E-02", "E-04", "E-10", "E-18", "E-30", "G-05"]
    }


def test_exercise_rules_are_missing_only_once_exercise_began():
    before = evaluate(RULES, Readings())
    during = evaluate(RULES, Readings(has_exercised=True))
    assert not [m for m in before.missing if m.phase == Phase.DURING]
    assert {m.rule_id for m in during.missing if m.phase == Phase.DURING} == {
        "F-01",
        "F-02",
        "F-20",
        "F-21",
        "F-22",
    }


def test_glucose_is_asked_of_insulin_users_only():
    assert "G-05" not in {m.rule_id for m in evaluate(RULES, Readings()).missing}


def test_weight_without_an_earlier_one_is_missing_in_heart_failure():
    found = evaluate(RULES, Readings(weight_kg=80.0, has_heart_failure=True))
    assert "E-10" in {m.rule_id for m in found.missing}


def test_worst_finding_comes_first():
    found = evaluate(
        RULES,
        Readings(systolic_mmhg=170, diastolic_mmhg=115, pvc_per_minute=8, has_exercised=True),
    )
    assert [f.rule_id for f in found.findings] == ["F-21", "E-02", "E-01"]
    assert found.worst is Level.STOP


def test_sentence_names_the_reading_and_the_limit():
    (finding,) = evaluate(RULES, Readings(systolic_mmhg=186)).findings
    assert "186" in finding.sentence
    assert "180" in finding.sentence
    assert finding.source


def test_fall_between_loads_that_cannot_be_ranked_is_not_taken_as_normal():
    found = evaluate(
        RULES,
        Readings(
            systolic_mmhg=120, efforts=(Effort(150, 4.0), Effort(125, None)), has_exercised=True
        ),
    )
    assert not found.findings
    # The fall of 25 lies between loads that cannot be ranked: not checked, never normal.
    assert "F-01" in {m.rule_id for m in found.missing}
    small = Readings(systolic_mmhg=120, efforts=(Effort(150, 4.0), Effort(145, None)))
    assert "F-01" not in {m.rule_id for m in evaluate(RULES, small).missing}


IF_MEASURED = {"G-01", "G-02"}  # glucose is asked of people on insulin only, judged for all


def test_every_rule_states_source_and_what_it_asks_for():
    for rule in RULES:
        assert rule.source
        assert rule.asks_for or rule.level == Level.CAUTION or rule.id in IF_MEASURED
        assert rule.is_local == rule.id.startswith("F-2")


def test_missing_words_stand_once():
    found = evaluate(RULES, Readings())
    assert "blood pressure (E-01, E-02)" in in_words(found.missing)
