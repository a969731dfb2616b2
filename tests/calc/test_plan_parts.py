"""The parts of a treatment plan: what is stored, what is missing, which goals are met."""

from dataclasses import replace
from datetime import date

import pytest

from assessments.calc.lipids import LDL
from assessments.calc.targets import TARGETS
from patients.calc.limits import OutOfRange
from programs.attendance.calc.teaching import COMPONENTS as TAUGHT
from programs.review.calc.components import BY_KEY, COMPONENTS, component_taught
from programs.review.calc.goals import (
    GOAL_OF,
    GOALS,
    Found,
    goals_of,
    proposed,
    standing_of,
)
from programs.review.calc.parts import (
    Facts,
    Part,
    from_before,
    missing_parts,
    read,
    read_all,
    rows_of,
    stored,
)

BY = date(2027, 1, 8)
WHOLE = Part(
    found="LDL 96 mg/dL", goal="less", by_on=BY, intervention="statin", family="lives with a son"
)
PARTS = {one.key: WHOLE for one in COMPONENTS}
FACTS = Facts("stent", has_prescription=True, has_baseline=True)


def test_the_components_are_those_of_the_rule_and_of_the_society():
    """42 CFR 410.49(b)(2) and Balady 2007, each component named once."""
    assert list(BY_KEY) == [
        "exercise", "nutrition", "weight", "blood_pressure", "lipids", "diabetes", "tobacco",
        "psychosocial", "activity", "medicines",
    ]  # fmt: skip
    assert {goal.component for goal in GOALS} <= set(BY_KEY)


def test_whatever_is_taught_in_words_of_ours_belongs_somewhere():
    nowhere = [t for c in TAUGHT for t in c.topics if not component_taught(c.id, t)]
    assert nowhere == ["My heart condition and what was done", "My results and goals"]
    assert component_taught("nutrition", "of one's own") == "nutrition"
    assert component_taught("risk", "of one's own") == ""


@pytest.mark.parametrize(
    ("gap", "words"),
    [
        ({"has_prescription": False}, "type, amount, frequency, duration"),
        ({"has_baseline": False}, "start"),
        ({"is_ending": True}, "end"),
        ({"diagnosis": " "}, "the diagnosis"),
    ],
)
def test_a_plan_names_what_the_rule_asks_for(gap, words):
    """42 CFR 410.49(b)(2): diagnosis, prescription, outcomes, plan with goals."""
    assert missing_parts(FACTS, PARTS) == []
    (missing,) = missing_parts(replace(FACTS, **gap), PARTS)
    assert words in missing
    ending = replace(FACTS, is_ending=True, has_exit=True)
    assert missing_parts(ending, PARTS) == []


@pytest.mark.parametrize(
    ("gap", "words"),
    [
        ({"found": "", "family": ""}, "assessment, family and home"),
        ({"found": "Not on record: LDL."}, "assessment"),
        ({"goal": ""}, "goal"),
        ({"by_on": None}, "day of the goal"),
        ({"intervention": " "}, "what is done"),
        ({"applies": False}, "why it does not apply"),
    ],
)
def test_a_component_names_what_it_lacks(gap, words):
    found = missing_parts(FACTS, PARTS | {"psychosocial": replace(WHOLE, **gap)})
    assert found == [f"Psychosocial, family and home: {words}"]
    left_out = replace(Part(applies=False, assessment="never smoked"))
    assert missing_parts(FACTS, PARTS | {"tobacco": left_out}) == []
    assert len(missing_parts(FACTS, {})) == len(COMPONENTS)


def test_a_part_is_read_as_it_was_stored():
    whole = replace(
        WHOLE, applies=False, amounts={"ldl": 70.0}, standing="met", progress="well", taught="salt",
        education="leaflet", assessment="high",
    )  # fmt: skip
    assert read(stored(whole)) == whole
    assert stored(Part()) == {}
    assert read({"amounts": {"gone": 3}}) == Part()
    assert read_all({})["lipids"] == Part()
    assert read_all({"components": {"lipids": stored(whole)}})["lipids"] == whole


def test_old_texts_carry_over_into_their_components():
    parts = from_before("Treadmill", "sees a psychologist")
    assert parts["exercise"].intervention == "Treadmill"
    assert parts["psychosocial"].intervention == "sees a psychologist"
    assert parts["lipids"] == Part()


def test_lines_of_a_part():
    part = replace(WHOLE, amounts={"ldl": 70.0})
    rows = rows_of("lipids", "Lipids", part)
    assert rows[0] == (
        "lipids.goal", "Lipids: goal", "LDL under 70 mg/dL; less, by 8 Jan 2027",
    )  # fmt: skip
    assert "lipids.family" not in {row.key for row in rows}
    assert "psychosocial.family" in {row.key for row in rows_of("psychosocial", "P", part)}
    assert ("x.applies", "X", "does not apply") in rows_of("x", "X", Part(applies=False))
    assert Part(by_on=BY).goal_words == ""
    assert Part(goal="walk").goal_words == "walk"


def test_every_target_of_risk_factors_is_a_goal_of_a_component():
    assert {target.key for target in TARGETS} <= set(GOAL_OF)
    assert [goal.key for goal in goals_of("weight", "female")] == ["waist_women", "weight"]
    assert [goal.key for goal in goals_of("weight", "")] == ["weight"]
    for goal in GOALS:
        assert goal.label
        if goal.usual is not None:
            assert goal.bounds.check(goal.usual)
    with pytest.raises(OutOfRange):
        GOAL_OF["ldl"].bounds.check(400)


def found(day, value):
    return Found(date(2026, 11, day), value, {}, {LDL: value} if value else {})


def test_a_goal_starts_from_the_site_or_from_the_first_result():
    assert proposed(GOAL_OF["ldl"], {}, []) == 70
    assert proposed(GOAL_OF["ldl"], {"ldl": 55}, [found(1, 90)]) == 55
    # Gremeaux 2011: 25 m matter in coronary disease, in rehabilitation
    walk = GOAL_OF["walk"]
    assert proposed(walk, {}, [found(1, 388), found(9, 431)]) == 413
    assert proposed(walk, {}, []) is None
    assert proposed(walk, {}, [found(1, 990)]) is None  # beyond what may be typed
    assert proposed(GOAL_OF["weight"], {}, [found(1, 89)]) is None  # nothing is made up


def test_goals_are_met_by_results_alone():
    ldl = GOAL_OF["ldl"]
    assert standing_of(ldl, 70, []).words == "no result yet: LDL under 70 mg/dL"
    assert standing_of(ldl, 70, [found(1, None)]).is_met is None
    high = standing_of(ldl, 70, [found(1, 60), found(3, 70)])
    assert (high.is_met, high.words) == (
        False, "◇ not met, LDL under 70 mg/dL: 70 mg/dL on 3 Nov 2026",
    )  # fmt: skip
    met = standing_of(ldl, 70, [found(1, 84), found(3, 69), found(7, 64)])
    assert met.met_since == date(2026, 11, 3)
    assert met.words == "◆ met since 3 Nov 2026, LDL under 70 mg/dL: 64 mg/dL on 7 Nov 2026"
    walk = GOAL_OF["walk"]
    assert standing_of(walk, 413, [found(1, 413)]).is_met
    tobacco = standing_of(GOAL_OF["tobacco"], 1, [found(2, 1)])
    assert tobacco.words == "◆ met since 2 Nov 2026, no tobacco on 2 Nov 2026"
