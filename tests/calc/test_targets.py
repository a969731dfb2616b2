"""Both sides of every target.

Blood pressure under 130/80: ACC/AHA 2017, kept 2025. Waist 94 and 80 cm: WHO 2008. 150 minutes:
WHO 2020. LDL 70 (ESC 2021: 55), HbA1c 7 %, abstinence, 80 % of days covered: in common use, from
memory.
"""

import pytest

from assessments.calc.lipids import LIPIDS
from assessments.calc.targets import TARGETS, Target, judge
from patients.calc.limits import OutOfRange
from tests.calc.test_measures import ON, person

MEASURE = {
    "systolic": "resting_blood_pressure",
    "ldl": "non_hdl_cholesterol",
    "hba1c": "hba1c",
    "waist": "waist",
    "activity": "activity_minutes",
    "tobacco": "tobacco",
    "adherence": "medicine_adherence",
}


def met(kind, value, sex="male", own=None, inputs=None, derived=None):
    found = judge(MEASURE[kind], value, inputs or {}, derived or {}, sex, own or {})
    return [(j.target.key, j.is_met) for j in found]


@pytest.mark.parametrize(
    ("kind", "yes", "no"),
    [("hba1c", 6.99, 7.0), ("activity", 150, 149), ("tobacco", 1, 2), ("adherence", 80, 79.9)],
)
def test_both_sides(kind, yes, no):
    assert [is_met for _, is_met in met(kind, yes)] == [True]
    assert [is_met for _, is_met in met(kind, no)] == [False]


def test_blood_pressure_has_two_targets():
    assert met("systolic", 129, inputs={"diastolic_mmhg": 79}) == [
        ("systolic", True),
        ("diastolic", True),
    ]
    assert met("systolic", 130, inputs={"diastolic_mmhg": 80}) == [
        ("systolic", False),
        ("diastolic", False),
    ]


@pytest.mark.parametrize(
    ("sex", "waist", "expected"),
    [
        ("male", 94, [("waist_men", True)]),
        ("male", 94.1, [("waist_men", False)]),
        ("female", 80, [("waist_women", True)]),
        ("female", 80.1, [("waist_women", False)]),
        ("", 80, []),
    ],
)
def test_waist_goes_by_sex(sex, waist, expected):
    assert met("waist", waist, sex) == expected


def test_measured_ldl_comes_before_the_computed_one():
    # Friedewald on these would give 180 - 50 - 200 / 5 = 90.
    typed = {"total": 180.0, "hdl": 50.0, "triglycerides": 200.0, "equation": 2}
    computed = LIPIDS.score(typed, person("male 64"), ON)
    assert {d.key: d.value for d in computed.derived}["ldl_mgdl"] == pytest.approx(90)
    measured = LIPIDS.score(typed | {"direct_ldl": 65.0}, person("male 64"), ON)
    both = {d.key: d.value for d in measured.derived}
    assert met("ldl", 120, derived=both) == [("ldl", True)]
    assert met("ldl", 120, derived={"ldl_mgdl": 70.0}) == [("ldl", False)]
    assert met("ldl", 120, derived={"ldl_mgdl": 65.0}, own={"ldl": 55}) == [("ldl", False)]


def test_missing_is_neither_met_nor_missed():
    assert met("ldl", 120) == [("ldl", None)]
    assert met("systolic", None) == [("systolic", None), ("diastolic", None)]
    (unknown,) = judge("non_hdl_cholesterol", 120, {}, {}, "", {})
    assert unknown.words == ""


def test_words_say_what_is_met_and_by_which_amount():
    (judged,) = judge("hba1c", 7.4, {}, {}, "", {"hba1c": 8})
    assert judged.words == "◆ met: HbA1c under 8 %"
    (judged,) = judge("tobacco", 3, {}, {}, "", {})
    assert judged.words == "◇ not met: no tobacco"


# This project's choice of how far a site may move a target; no standard names such bounds.
BOUNDS = {
    "systolic": (110, 150),
    "diastolic": (65, 95),
    "ldl": (40, 116),
    "hba1c": (6, 9),
    "waist_men": (80, 110),
    "waist_women": (70, 100),
    "activity": (60, 420),
    "tobacco": (1, 1),
    "adherence": (50, 100),
}


@pytest.mark.parametrize("target", TARGETS, ids=lambda t: t.key)
def test_initial_amount_lies_inside_its_bounds(target: Target):
    assert target.bounds.check(target.amount) == target.amount
    assert target.source
    assert target.bounds.name.startswith("Target for ")
    assert target.bounds.unit == target.unit
    low, high = BOUNDS[target.key]
    for outside in (low - 0.1, high + 0.1):
        with pytest.raises(OutOfRange):
            target.bounds.check(outside)
    assert (target.bounds.check(low), target.bounds.check(high)) == (low, high)
