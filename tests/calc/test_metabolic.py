import pytest

from assessments.calc import metabolic
from patients.calc.limits import NotScorable, OutOfRange
from patients.calc.units import metres_per_minute_from_mph
from tests.reference import rows


@pytest.mark.parametrize("row", rows("workload"))
def test_oxygen_cost_agrees_with_the_equations(row):
    cost = getattr(metabolic, row["mode"])(float(row["a"]), float(row["b"]))
    assert cost.vo2 == pytest.approx(float(row["expected_vo2"]), abs=float(row["tolerance"]))


def test_three_mph_at_five_percent_is_5_368_mets():
    # Worked example: 18.789 mL/kg/min
    assert metabolic.walking(metres_per_minute_from_mph(3), 0.05).mets == pytest.approx(
        5.368, abs=1e-3
    )


def test_solved_speed_grade_and_power_agree_with_the_worked_examples():
    # 4 METs: 61.05 m/min at 4 %; grade 1.736 % at 80 m/min; 50.84 W at 80 kg
    assert metabolic.walking_speed_for(4, 0.04) == pytest.approx(61.05 * 0.06, abs=0.0005)
    assert metabolic.grade_for(4, 80 * 0.06) * 100 == pytest.approx(1.736, abs=0.0005)
    assert metabolic.leg_power_for(4, 80) == pytest.approx(50.84, abs=0.005)


@pytest.mark.parametrize("mets", [2.5, 4, 6.3])
def test_solving_and_costing_agree(mets):
    speed = metabolic.walking_speed_for(mets, 0.02)
    assert metabolic.walking(speed * 1000 / 60, 0.02).mets == pytest.approx(mets)
    assert metabolic.leg_cycling(metabolic.leg_power_for(mets, 90), 90).mets == pytest.approx(mets)


@pytest.mark.parametrize(
    ("speed", "grade", "in_range"),
    [(50, 0, True), (49.9, 0, False), (100, 0, True), (100.1, 0, False), (80, -0.02, False)],
)
def test_walking_marks_what_lies_outside_50_to_100_m_per_minute(speed, grade, in_range):
    assert metabolic.walking(speed, grade).is_in_range is in_range


@pytest.mark.parametrize(("speed", "in_range"), [(134, False), (134.1, True)])
def test_running_is_in_range_above_134_m_per_minute(speed, in_range):
    assert metabolic.running(speed).is_in_range is in_range


def test_treadmill_changes_equation_at_134_m_per_minute():
    assert metabolic.treadmill(8.04).equation == "ACSM walking"
    assert metabolic.treadmill(8.05).equation == "ACSM running"


@pytest.mark.parametrize(
    ("watts", "in_range"),  # leg ergometer 300 to 1200 kg·m/min
    [(49, False), (50, True), (196, True), (197, False)],
)
def test_leg_ergometer_range(watts, in_range):
    assert metabolic.leg_cycling(watts, 80).is_in_range is in_range


@pytest.mark.parametrize(
    ("watts", "in_range"), [(24, False), (25, True), (122, True), (123, False)]
)
def test_arm_ergometer_range(watts, in_range):
    assert metabolic.arm_cycling(watts, 80).is_in_range is in_range


@pytest.mark.parametrize("grade", [0.31, 1, 5, -0.06])
def test_grade_in_per_cent_is_refused(grade):
    with pytest.raises(OutOfRange):
        metabolic.walking(80, grade)


@pytest.mark.parametrize("speed", [0, -1, 421])
def test_impossible_speed_is_refused(speed):
    with pytest.raises(OutOfRange):
        metabolic.walking(speed)


def test_targets_that_need_no_work_are_refused():
    with pytest.raises(NotScorable):
        metabolic.walking_speed_for(1)
    with pytest.raises(NotScorable):
        metabolic.leg_power_for(2, 80)
    with pytest.raises(NotScorable):
        metabolic.grade_for(2, 6)


def test_30_minutes_at_5_mets_of_80_kg():
    # Worked example: 7.0 kcal/min, 210 kcal, 150 MET-min
    assert metabolic.energy_kcal(5, 80, 30) == pytest.approx(210)
    assert metabolic.met_minutes(5, 30) == 150


@pytest.mark.parametrize(
    ("mets", "word"), [(2.9, "light"), (3, "moderate"), (5.9, "moderate"), (6, "vigorous")]
)
def test_met_band(mets, word):
    assert metabolic.met_band(mets) == word


@pytest.mark.parametrize(
    "refused",
    [
        lambda: metabolic.friend_treadmill(0),
        lambda: metabolic.friend_treadmill(5, -0.01),
        lambda: metabolic.friend_cycle(601, 80),
        lambda: metabolic.friend_cycle(100, 20),
    ],
)
def test_a_maximal_test_that_is_impossible_is_refused(refused):
    with pytest.raises(OutOfRange):
        refused()
