"""Which tests are suggested, and what on record speaks against them."""

import pytest

from assessments.calc import choosing
from assessments.calc.catalogue import BY_KEY, MEASURES
from assessments.calc.choosing import LIMITS, TEST_OF, OnRecord, against, suggest

WELL = OnRecord(resting_bpm=70, systolic_mmhg=130, diastolic_mmhg=80, spo2_percent=97)
WALK = TEST_OF["six_minute_walk"]


def words(key, **facts):
    record = OnRecord(**({"resting_bpm": 70, "systolic_mmhg": 130, "spo2_percent": 97} | facts))
    return [(a.words, a.is_absolute) for a in against(TEST_OF[key], record)]


def test_every_limit_has_a_test_and_every_test_is_a_measure():
    for key, _ in LIMITS:
        assert suggest([key], WELL), key
    assert set(TEST_OF) <= set(BY_KEY)
    assert len(TEST_OF) == len(choosing.TESTS)
    assert all(test.measure is BY_KEY[key] for key, test in TEST_OF.items())


# ERS/ATS 2014 (Holland, Eur Respir J 44:1428): infarction within 3 to 5 days, saturation of 85 % or
# less, pressure above 200/120; ATS 2002 from memory: a month, rate above 120, above 180/100.
@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({"days_since_mi": 5}, [("heart attack within 3 to 5 days", True)]),
        ({"days_since_mi": 6}, [("heart attack within a month", False)]),
        ({"days_since_mi": 29}, [("heart attack within a month", False)]),
        ({"days_since_mi": 30}, []),
        ({"spo2_percent": 85}, [("saturation 85 % or less at rest", True)]),
        ({"spo2_percent": 86}, []),
        ({"resting_bpm": 120}, []),
        ({"resting_bpm": 121}, [("resting heart rate above 120", False)]),
        ({"systolic_mmhg": 180}, []),
        ({"systolic_mmhg": 181}, [("resting pressure above 180/100", False)]),
        ({"diastolic_mmhg": 101}, [("resting pressure above 180/100", False)]),
        ({"diastolic_mmhg": 120}, [("resting pressure above 180/100", False)]),
        (
            {"diastolic_mmhg": 121},
            [("resting pressure above 200/120", False), ("resting pressure above 180/100", False)],
        ),
        ({"systolic_mmhg": 200}, [("resting pressure above 180/100", False)]),
        (
            {"systolic_mmhg": 201},
            [("resting pressure above 200/120", False), ("resting pressure above 180/100", False)],
        ),
    ],
)
def test_what_speaks_against_a_walk(facts, expected):
    assert words("six_minute_walk", **facts) == expected


def test_beta_blocker_refuses_estimates_from_heart_rate_and_nothing_else():
    assert words("single_stage_treadmill", on_beta_blocker=True)[0][1]
    assert words("cycle_stages", on_beta_blocker=True)[0][1]
    assert words("six_minute_walk", on_beta_blocker=True) == []


def test_defibrillator_and_precautions_are_said_where_they_matter():
    icd = words("incremental_shuttle_walk", has_icd=True, detection_bpm=160)
    assert icd == [("defibrillator detects at 160 /min: stay below it", False)]
    unread = words("incremental_shuttle_walk", has_icd=True)
    assert unread == [("defibrillator detects, rate not noted: stay below it", False)]
    sternum = frozenset({"sternum"})
    assert words("one_repetition_maximum", precautions=sternum) == [
        ("precaution in force: sternum", False)
    ]
    assert words("gait_speed", precautions=sternum) == []


def test_what_is_not_on_record_is_named_before_effort_and_never_taken_as_well():
    (walk,) = [s for s in suggest(["endurance"], OnRecord()) if s.test is WALK]
    assert walk.unknown == ["resting heart rate", "resting pressure", "saturation"]
    (mood,) = suggest(["mood"], OnRecord())
    assert mood.unknown == []


def test_refused_tests_come_last_and_the_most_telling_first():
    found = suggest(["endurance", "prescription"], OnRecord(on_beta_blocker=True))
    assert [s.is_refused for s in found] == sorted(s.is_refused for s in found)
    able = [len(s.because) for s in found if not s.is_refused]
    assert able == sorted(able, reverse=True)


def test_time_adds_up():
    assert choosing.minutes_of(["six_minute_walk", "phq9", "resting_heart_rate"]) == 20


def test_everything_that_speaks_against_a_test_is_said_with_its_source_the_absolute_first():
    record = OnRecord(
        days_since_mi=4,
        resting_bpm=121,
        systolic_mmhg=130,
        spo2_percent=97,
        on_beta_blocker=True,
        has_icd=True,
        precautions=frozenset({"sternum"}),
    )
    found = {key: against(test, record) for key, test in TEST_OF.items()}
    for reasons in found.values():
        order = [reason.is_absolute for reason in reasons]
        assert order == sorted(order, reverse=True)
        assert all(reason.source for reason in reasons)
    cycle = [reason.words for reason in found["cycle_stages"]]
    assert "heart attack within 3 to 5 days" in cycle
    assert "resting heart rate above 120" in cycle
    sources = {reason.words: reason.source for reason in found["cycle_stages"]}
    refused = "beta-blocker: the estimate would be wrong and is refused"
    assert sources[refused] == "Ebbeling 1991; from memory"
    with_device = {
        key for key, reasons in found.items() if any("defibrillator" in r.words for r in reasons)
    }
    assert with_device == {key for key, test in TEST_OF.items() if test.is_maximal}
    without = OnRecord(resting_bpm=70, systolic_mmhg=130, spo2_percent=97)
    assert not any(against(test, without) for test in TEST_OF.values())


def test_a_suggestion_names_only_what_was_asked_about():
    for suggestion in suggest(["balance"], WELL):
        assert suggestion.because == [dict(LIMITS)["balance"]]


def test_every_measure_is_suggested_for_something_but_the_signs_taken_of_everybody():
    of_everybody = {"resting_heart_rate", "resting_blood_pressure", "oxygen_saturation"}
    assert {measure.key for measure in MEASURES} - set(TEST_OF) == of_everybody
