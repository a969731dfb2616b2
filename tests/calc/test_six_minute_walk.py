from datetime import date

import pytest

from assessments.calc import six_minute_walk as walk
from patients.calc.limits import NotScorable, OutOfRange
from patients.calc.person import Person
from tests.reference import number, rows

ON = date(2026, 3, 2)


@pytest.mark.parametrize("row", rows("six_minute_walk"))
def test_predicted_distance_agrees_with_the_paper(row):
    equation = getattr(walk, row["equation"])
    size = [number(row[k]) for k in ("height_cm", "weight_kg") if row[k]]
    predicted = equation(row["sex"], int(row["age"]), *size)
    tolerance = float(row["tolerance"])
    assert predicted.metres == pytest.approx(float(row["expected_m"]), abs=tolerance)
    if row["lower_limit_m"]:
        assert predicted.lower_limit_m == pytest.approx(float(row["lower_limit_m"]), abs=tolerance)
    else:
        assert predicted.lower_limit_m is None


@pytest.mark.parametrize(
    ("equation", "inside", "outside"),
    [
        (walk.enright, (40, 80), (39, 81)),  # Enright & Sherrill 1998: 40 to 80 years
        (walk.troosters, (50, 85), (49, 86)),  # Troosters 1999: 50 to 85 years
    ],
)
def test_equation_is_refused_outside_its_ages(equation, inside, outside):
    for age in inside:
        equation("male", age, 175, 80)
    for age in outside:
        with pytest.raises(NotScorable, match="derived for"):
            equation("male", age, 175, 80)


def test_equation_that_makes_no_sense_for_a_body_is_refused():
    with pytest.raises(NotScorable, match="sensible"):
        walk.enright("male", 80, 140, 200)


@pytest.mark.parametrize("equation", [walk.enright, walk.troosters])
def test_equation_is_refused_without_sex(equation):
    with pytest.raises(NotScorable, match="sex"):
        equation("", 60, 175, 80)


def test_gibbons_is_refused_without_sex_and_outside_20_to_80():
    for sex, age in [("", 60), ("male", 19), ("male", 81)]:
        with pytest.raises(NotScorable):
            walk.gibbons(sex, age)


@pytest.mark.parametrize(("height", "weight"), [(99, 80), (251, 80), (175, 24), (175, 351)])
def test_impossible_size_is_refused(height, weight):
    with pytest.raises(OutOfRange):
        walk.enright("male", 60, height, weight)


def test_420_m_is_70_m_per_minute_and_three_mets():
    # ACSM walking equation, hand-worked: (0.1 * 70 + 3.5) / 3.5 = 3.00
    assert walk.walking_speed_m_min(420) == pytest.approx(70)
    assert walk.mean_mets(420) == pytest.approx(3.0)


@pytest.mark.parametrize("distance", [300, 600])
def test_mets_are_given_from_300_to_600_m(distance):
    walk.mean_mets(distance)  # ACSM range 50 to 100 m/min


@pytest.mark.parametrize("distance", [299.9, 600.1])
def test_mets_are_refused_beyond_the_walking_equation(distance):
    with pytest.raises(NotScorable):
        walk.mean_mets(distance)


def scored(sex="male", born=date(1966, 1, 1), **inputs):
    return walk.score(inputs, Person(born, sex), ON)


def test_450_m_of_573_75_is_78_43_percent():
    # Worked example: man of 60, 175 cm, 80 kg
    result = scored(distance_m=450.0, height_cm=175.0, weight_kg=80.0)
    share = next(d.value for d in result.derived if d.label == "of predicted")
    assert share == pytest.approx(78.43, abs=0.005)
    assert result.interpretation == "within the reference range"


def test_distance_below_the_lower_limit_says_so():
    below = scored(distance_m=420.7, height_cm=175.0, weight_kg=80.0)
    at = scored(distance_m=420.75, height_cm=175.0, weight_kg=80.0)
    assert below.interpretation == "below the lower limit of normal"
    assert at.interpretation == "within the reference range"


def test_missing_size_gives_a_distance_but_no_reference():
    result = scored(distance_m=450.0)
    assert result.value == 450
    assert result.interpretation == ""
    assert any("height or weight is missing" in r for r in result.remarks)


def test_age_outside_the_equation_is_remarked_not_extrapolated():
    result = scored(born=date(1990, 1, 1), distance_m=450.0, height_cm=175.0, weight_kg=80.0)
    assert not [d for d in result.derived if d.label == "predicted"]
    assert any("derived for 40 to 80" in r for r in result.remarks)


def test_single_walk_is_remarked():
    # ERS/ATS 2014: two tests, results rise with practice
    assert any("One walk only" in r for r in scored(distance_m=450.0).remarks)
    assert not any(
        "One walk only" in r for r in scored(distance_m=450.0, is_second_walk=True).remarks
    )


def test_change_of_25_m_is_meaningful():
    # Gremeaux 2011: 25 m after acute coronary syndrome; an equal change reaches it
    measure = walk.SIX_MINUTE_WALK
    assert measure.is_meaningful(measure.change(400, 425)) is True
    assert measure.is_meaningful(measure.change(400, 424.9)) is False
