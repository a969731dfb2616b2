"""The parts of a class by its clock, and workloads as they are said on the floor."""

import pytest

from patients.calc.measuring import STORED, units_from
from programs.attendance.calc.stages import Stage, stage_of, stage_of_class
from programs.attendance.calc.workload import SET_TO, NotAWorkload, read_workload, workload_words

IN, EX, FIN = Stage.CHECK_IN, Stage.EXERCISE, Stage.FINISH
EVERYWHERE = {IN: 3, EX: 2, FIN: 2}

IMPERIAL = units_from({"shows_mph": True, "shows_pounds": True})


@pytest.mark.parametrize(
    ("since", "waiting", "stage"),
    [
        (-600, EVERYWHERE, IN),
        (9, EVERYWHERE, IN),
        (10, EVERYWHERE, EX),
        (47, EVERYWHERE, EX),
        (48, EVERYWHERE, FIN),
        (300, EVERYWHERE, FIN),
        (0, {EX: 1, FIN: 1}, EX),  # everybody was early
        (30, {IN: 4}, IN),  # everybody is late
        (55, {IN: 1}, IN),
        (55, {}, FIN),
        (0, {}, IN),
    ],
)
def test_the_clock_chooses_and_work_overrules_it(since, waiting, stage):
    """Project choice: an hour's class checks in until 0:10 and finishes from 0:48."""
    assert stage_of_class(since, 60, waiting) is stage


def test_a_state_has_its_part_until_it_is_over():
    assert [stage_of(s) for s in ("expected", "arrived", "exercising")] == [IN, IN, EX]
    assert {stage_of(s) for s in ("finished", "held", "stopped", "absent")} == {None}
    assert [stage.label for stage in Stage] == ["Check in", "Exercise", "Finish"]


@pytest.mark.parametrize(
    ("activity", "text", "values"),
    [
        ("treadmill", "5.2 km/h 2 %", {"speed_kmh": 5.2, "grade_percent": 2}),
        ("treadmill", "5,2 2", {"speed_kmh": 5.2, "grade_percent": 2}),
        ("treadmill", "2% 5kmh", {"speed_kmh": 5, "grade_percent": 2}),
        ("track", "4.5", {"speed_kmh": 4.5}),
        ("cycle", "45 watts", {"power_w": 45}),
        ("arm", "15W", {"power_w": 15}),
        ("rower", "3.5 METs", {"power_w": None, "shown_mets": 3.5}),
        ("stepper", "24 /min; 20 cm",
         {"steps_per_minute": 24, "step_height_cm": 20, "shown_mets": None}),
        ("strength", "10 kg", {"load_kg": 10}),
        ("strength", "10\u00a0kgs", {"load_kg": 10}),
        ("cycle", "  ", {"power_w": None}),
        ("flexibility", "", {}),
    ],
)  # fmt: skip
def test_a_workload_is_read_as_it_is_said(activity, text, values):
    assert read_workload(activity, text) == values
    assert read_workload(activity, workload_words(activity, values)) == values


# NIST SP 811, appendix B.8: 1 mi = 1.609344 km, 1 lb = 0.45359237 kg, both exact.
@pytest.mark.parametrize(
    ("activity", "text", "units", "values"),
    [
        ("treadmill", "3 mph", STORED, {"speed_kmh": 4.828032, "grade_percent": None}),
        ("treadmill", "3 2", IMPERIAL, {"speed_kmh": 4.828032, "grade_percent": 2}),
        ("treadmill", "3 2 %", IMPERIAL, {"speed_kmh": 4.828032, "grade_percent": 2}),
        ("treadmill", "5 km/h 2", IMPERIAL, {"speed_kmh": 5, "grade_percent": 2}),
        ("track", "2.5mi/h", STORED, {"speed_kmh": 4.02336}),
        ("strength", "10", IMPERIAL, {"load_kg": 4.5359237}),
        ("strength", "10 lb", STORED, {"load_kg": 4.5359237}),
        ("strength", "10 kg", IMPERIAL, {"load_kg": 10}),
    ],
)  # fmt: skip
def test_a_unit_that_is_typed_wins_over_the_boxs_own(activity, text, units, values):
    assert read_workload(activity, text, units) == pytest.approx(values, abs=1e-9)


def test_a_workload_is_written_in_the_readers_units():
    values = {"speed_kmh": 4.828032, "grade_percent": 2}
    assert workload_words("treadmill", values, IMPERIAL) == "3 mph 2 %"
    assert workload_words("treadmill", values) == "4.83 km/h 2 %"
    assert workload_words("strength", {"load_kg": 4.5359237}, IMPERIAL) == "10 lb"


def test_what_would_be_a_load_is_told_in_the_readers_unit():
    with pytest.raises(NotAWorkload, match="such as 5 mph 2 %"):
        read_workload("treadmill", "fast", IMPERIAL)


@pytest.mark.parametrize(
    ("activity", "text"),
    [
        ("treadmill", "fast"),
        ("treadmill", "5.2 W"),
        ("treadmill", "5 2 3"),
        ("treadmill", "5 km/h 6 km/h"),
        ("cycle", "45 %"),
        ("cycle", "-5"),
        ("flexibility", "3"),
        ("", "3"),
    ],
)
def test_what_is_no_workload_is_named(activity, text):
    with pytest.raises(NotAWorkload, match=r"write it such as|has no load"):
        read_workload(activity, text)


def test_every_activity_says_what_it_is_set_to():
    for activity in SET_TO:
        assert workload_words(activity, {}) == ""
    assert workload_words("treadmill", {"speed_kmh": 5.0, "grade_percent": 0}) == "5 km/h 0 %"
