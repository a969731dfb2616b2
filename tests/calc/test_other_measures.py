from datetime import date

import pytest

from assessments.calc import gait_speed, mood, sit_to_stand, vitals
from assessments.calc.catalogue import BY_KEY, MEASURES, PROPOSED
from assessments.calc.measure import Direction
from patients.calc.limits import NotScorable, OutOfRange
from patients.calc.person import Person
from tests.reference import rows

ON = date(2026, 3, 2)
MAN_70 = Person(date(1955, 6, 1), "male")


@pytest.mark.parametrize("row", rows("chair_stand"))
def test_chair_stand_limit_agrees_with_steadi(row):
    found, _ = sit_to_stand.usual_stands(row["sex"], int(row["age"]))
    assert found == int(row["below_average_under"])


@pytest.mark.parametrize("age", [59, 95])
def test_chair_stand_norms_are_refused_outside_60_to_94(age):
    with pytest.raises(NotScorable):
        sit_to_stand.usual_stands("male", age)


def test_chair_stand_norms_need_the_sex():
    with pytest.raises(NotScorable, match="sex"):
        sit_to_stand.usual_stands("", 70)


@pytest.mark.parametrize(("stands", "words"), [(11, "below average"), (12, "average or better")])
def test_chair_stand_of_a_man_of_70_is_below_average_under_12(stands, words):
    assert sit_to_stand.score_thirty({"stands": stands}, MAN_70, ON).interpretation == words


def test_chair_stand_with_arms_scores_zero():
    # Rikli & Jones 1999: using the arms scores 0
    assert sit_to_stand.score_thirty({"stands": 9, "used_arms": True}, MAN_70, ON).value == 0


def test_chair_stand_without_an_answer_is_not_zero():
    with pytest.raises(NotScorable):
        sit_to_stand.score_thirty({}, MAN_70, ON)


def test_chair_stand_under_60_gives_the_count_only():
    young = Person(date(1990, 1, 1), "male")
    result = sit_to_stand.score_thirty({"stands": 20}, young, ON)
    assert (result.value, result.interpretation) == (20, "")


@pytest.mark.parametrize(
    ("age", "limit"),  # Bohannon 2006, Percept Mot Skills 103:215
    [(60, 11.4), (69, 11.4), (70, 12.6), (79, 12.6), (80, 14.8), (89, 14.8)],
)
def test_five_times_limit_agrees_with_bohannon(age, limit):
    assert sit_to_stand.worse_than_average_above(age) == limit


@pytest.mark.parametrize("age", [59, 90])
def test_five_times_limit_is_refused_outside_60_to_89(age):
    with pytest.raises(NotScorable):
        sit_to_stand.worse_than_average_above(age)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (12.6, "average or better"),  # strictly above is worse
        (12.7, "worse than average"),
        (13.0, "worse than average"),  # worked example: 70 years, 13.0 s
        (15.0, "worse than average"),  # EWGSOP2: low strength strictly above 15
        (15.1, "low strength (over 15 s, EWGSOP2); worse than average"),
    ],
)
def test_five_times_words(seconds, words):
    assert sit_to_stand.score_five({"seconds": seconds}, MAN_70, ON).interpretation == words


def test_five_times_not_finished_has_no_number():
    result = sit_to_stand.score_five({"is_completed": False}, MAN_70, ON)
    assert result.value is None
    assert "not able" in result.interpretation


def test_five_times_with_a_time_and_not_finished_is_a_question():
    with pytest.raises(NotScorable, match="not both"):
        sit_to_stand.score_five({"seconds": 20.0, "is_completed": False}, MAN_70, ON)


def test_five_times_without_any_answer_is_refused():
    with pytest.raises(NotScorable):
        sit_to_stand.score_five({}, MAN_70, ON)


def test_five_times_outside_the_norms_keeps_the_seconds():
    result = sit_to_stand.score_five({"seconds": 9.0}, Person(date(1990, 1, 1), "male"), ON)
    assert result.value == 9.0
    assert result.remarks


def test_five_times_improvement_of_1_8_s_is_meaningful():
    # Worked example: 15.2 to 13.4 s meets 1.7 s (Jones 2013)
    measure = BY_KEY["five_times_sit_to_stand"]
    change = measure.change(15.2, 13.4)
    assert measure.is_meaningful(change)
    assert measure.word_for(change) == "better"


def test_gait_speed_of_4_m_in_4_6_s():
    # Worked example: 0.870 m/s, above 0.8
    assert gait_speed.speed(4, [4.6]) == pytest.approx(0.8696, abs=0.0001)


def test_gait_speed_is_the_mean_of_two_walks():
    assert gait_speed.speed(4, [4.0, 5.0]) == pytest.approx(0.9)


def test_gait_speed_needs_a_time():
    with pytest.raises(NotScorable):
        gait_speed.speed(4, [])


@pytest.mark.parametrize(("course", "seconds"), [(1.9, 4), (20.1, 4), (4, 0.4), (4, 121)])
def test_gait_speed_refuses_the_impossible(course, seconds):
    with pytest.raises(OutOfRange):
        gait_speed.speed(course, [seconds])


@pytest.mark.parametrize(
    ("seconds", "words"),  # EWGSOP2: low at 0.8 m/s or less
    [(5.0, "low (0.8 m/s or less)"), (4.99, "above 0.8 m/s")],
)
def test_gait_speed_cut_is_not_strict(seconds, words):
    result = gait_speed.score({"course_m": 4.0, "first_s": seconds}, MAN_70, ON)
    assert result.interpretation.startswith(words)


@pytest.mark.parametrize(
    ("sex", "age", "mean"),  # Bohannon & Andrews 2011, doi:10.1016/j.physio.2010.12.004
    [("male", 20, 1.36), ("male", 59, 1.43), ("male", 60, 1.34), ("female", 45, 1.39),
     ("female", 69, 1.24), ("female", 70, 1.13), ("male", 80, 0.97), ("female", 99, 0.94)],
)  # fmt: skip
def test_usual_pace_agrees_with_the_table(sex, age, mean):
    assert gait_speed.usual_pace(sex, age) == mean


@pytest.mark.parametrize(("sex", "age"), [("male", 19), ("male", 100), ("", 60)])
def test_usual_pace_is_refused_outside_the_table(sex, age):
    with pytest.raises(NotScorable):
        gait_speed.usual_pace(sex, age)


def test_gait_speed_without_sex_has_no_reference():
    result = gait_speed.score({"course_m": 4.0, "first_s": 4.0}, Person(date(1955, 1, 1)), ON)
    assert not result.derived
    assert result.remarks


def test_gait_change_of_0_05_is_meaningful_despite_floating_point():
    # Perera 2006: 0.05 m/s; in binary 0.95 - 0.90 falls short
    measure = gait_speed.GAIT_SPEED
    assert measure.is_meaningful(measure.change(0.90, 0.95))
    assert not measure.is_meaningful(measure.change(0.90, 0.949))


def test_bmi_of_80_kg_at_175_cm():
    # Worked example: 26.122, overweight
    assert vitals.body_mass_index(80, 175) == pytest.approx(26.122, abs=0.0005)
    assert vitals.bmi_class(vitals.body_mass_index(80, 175)) == "overweight"


@pytest.mark.parametrize(
    ("bmi", "words"),  # WHO classes (from memory for the full set)
    [(18.49, "underweight"), (18.5, "normal weight"), (24.99, "normal weight"),
     (25, "overweight"), (29.99, "overweight"), (30, "obesity class I"),
     (35, "obesity class II"), (39.99, "obesity class II"), (40, "obesity class III")],
)  # fmt: skip
def test_bmi_class_is_of_the_unrounded_value(bmi, words):
    assert vitals.bmi_class(bmi) == words


@pytest.mark.parametrize(("kg", "cm"), [(64, 160), (76.8, 160), (96.1, 155)])
def test_bmi_on_a_boundary_is_not_lost_to_binary_noise(kg, cm):
    # 64 / 1.6² = 25, 76.8 / 1.6² = 30, 96.1 / 1.55² = 40, each the lower end of its class
    words = {64: "overweight", 76.8: "obesity class I", 96.1: "obesity class III"}[kg]
    assert vitals.bmi_class(vitals.body_mass_index(kg, cm)) == words


@pytest.mark.parametrize(
    ("systolic", "diastolic", "words"),  # ACC/AHA 2017; the higher category wins
    [(119, 79, "normal"), (120, 79, "elevated"), (129, 79, "elevated"), (130, 79, "stage 1"),
     (118, 84, "stage 1"), (119, 80, "stage 1"), (139, 89, "stage 1"), (140, 79, "stage 2"),
     (119, 90, "stage 2"), (180, 120, "stage 2"), (181, 80, "severe range"),
     (150, 121, "severe range")],
)  # fmt: skip
def test_pressure_category(systolic, diastolic, words):
    assert vitals.pressure_category(systolic, diastolic) == words


def test_pressure_the_wrong_way_round_is_refused():
    with pytest.raises(NotScorable, match="order"):
        vitals.pressure_category(80, 120)


def answers(text):
    return {f"item{n}": None if a == "-" else int(a) for n, a in enumerate(text, start=1)}


@pytest.mark.parametrize("row", rows("phq9"))
def test_phq9_agrees_with_the_manual(row):
    given = answers(row["items"])
    result = mood.score(given, MAN_70, ON)
    assert result.value == float(row["expected_total"])
    assert result.interpretation.startswith(row["severity"])
    assert ("positive screen" in result.interpretation) == (row["positive"] == "yes")
    assert mood.needs_response_today(given) == (row["alert"] == "yes")


def test_phq9_alert_fires_on_a_form_that_cannot_be_scored():
    partial = answers("1-------1")
    assert mood.PHQ9.alert(partial)
    with pytest.raises(NotScorable):
        mood.total(partial)


def test_phq9_never_fills_in_item_nine():
    with pytest.raises(NotScorable, match="Item 9"):
        mood.total(answers("11111111-"))


def test_phq9_prorates_up_to_two_missing_items_and_marks_it():
    result = mood.score(answers("--1111110"), MAN_70, ON)
    assert result.value == pytest.approx(6 * 9 / 7)
    assert not result.is_in_range
    assert "prorated" in result.remarks[0]
    with pytest.raises(NotScorable):
        mood.total(answers("---111110"))


@pytest.mark.parametrize("bad", [4, -1, 1.5])
def test_phq9_refuses_an_answer_that_is_not_0_to_3(bad):
    with pytest.raises(OutOfRange):
        mood.total(answers("111111110") | {"item1": bad})


@pytest.mark.parametrize("total", [-1, 28])
def test_phq9_severity_refuses_an_impossible_total(total):
    with pytest.raises(OutOfRange):
        mood.severity(total)


def test_every_measure_says_where_it_comes_from():
    for measure in MEASURES:
        assert measure.citation
        assert measure.version
        assert measure.inputs
        if measure.meaningful_change:
            assert measure.meaningful_change.population
            assert measure.meaningful_change.source
    assert len({m.key for m in MEASURES}) == len(MEASURES)
    assert all(key in BY_KEY for keys in PROPOSED.values() for key in keys)


def test_change_words_follow_the_direction():
    walk, rate = BY_KEY["six_minute_walk"], BY_KEY["resting_heart_rate"]
    assert (walk.word_for(10), walk.word_for(-10), walk.word_for(0)) == ("better", "worse", "same")
    assert rate.direction is Direction.NEITHER
    assert (rate.word_for(5), rate.word_for(-5)) == ("up", "down")
    assert rate.is_meaningful(5) is None


@pytest.mark.parametrize(
    ("key", "inputs", "value"),
    [
        ("resting_heart_rate", {"heart_rate_bpm": 62}, 62),
        ("resting_blood_pressure", {"systolic_mmhg": 128, "diastolic_mmhg": 74}, 128),
        ("oxygen_saturation", {"spo2_percent": 97}, 97),
        (
            "body_mass_index",
            {"weight_kg": 80.0, "height_cm": 175.0},
            pytest.approx(26.1224, abs=1e-4),
        ),
    ],
)
def test_resting_measures_keep_what_was_read(key, inputs, value):
    assert BY_KEY[key].score(inputs, MAN_70, ON).value == value
