import pytest

from patients.calc.units import glucose_mmoll, kmh_from_metres_per_minute
from programs.attendance.calc.effort import (
    Fit,
    Load,
    cost_of,
    fit,
    volume_of,
    worked,
)
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import GROUPS, IN_WORDS, Sheet, Vitals, merged_answers
from programs.attendance.calc.situation import Known, Situation


def test_planned_workload_alone_is_not_exercise():
    assert not Load("treadmill", speed_kmh=4).is_done
    assert Load("treadmill", minutes=10).is_done
    assert Load("treadmill", systolic_mmhg=140).is_done
    assert not Load("", minutes=10).is_done


def test_cost_needs_the_workload_and_for_cycling_the_mass():
    treadmill = cost_of(Load("treadmill", speed_kmh=4.2), None)
    assert treadmill is not None
    assert treadmill.mets == pytest.approx(3.0)  # ACSM: 70 m/min level is 3.00 METs
    cycle = cost_of(Load("cycle", power_w=100), 80)
    assert cycle is not None
    assert cycle.vo2 == pytest.approx(20.77)  # ACSM: 100 W at 80 kg
    arm = cost_of(Load("arm", power_w=50), 80)
    assert arm is not None
    assert arm.vo2 == pytest.approx(14.975)
    for unknown in [("cycle", 100, None), ("treadmill", None, 80), ("strength", None, 80)]:
        assert cost_of(Load(unknown[0], power_w=unknown[1]), unknown[2]) is None


def test_dose_counts_what_is_known_and_says_what_is_not():
    bouts = [(10, 3.0), (20, 4.0), (5, None), (None, 3.0)]
    dose = volume_of([("treadmill", m, mets) for m, mets in bouts])
    assert (dose.minutes, dose.met_minutes, dose.n_unknown) == (35, 110, 2)
    assert dose.kcal is None  # no body mass


def test_strength_counts_its_minutes_but_has_no_mets():
    dose = volume_of([("strength", 12, None), ("treadmill", 10, 4.0)], 80)
    assert (dose.minutes, dose.met_minutes, dose.n_unknown) == (22, 40, 0)
    assert dose.kcal == pytest.approx(56)  # hand-worked: 4 x 3.5 x 80 / 200 x 10


def test_stepper_by_equation_and_rower_by_what_it_shows():
    stepper = cost_of(Load("stepper", steps_per_minute=24, step_height_cm=20), None)
    # ACSM stepping, hand-worked: 0.2 x 24 + 1.33 x 1.8 x 0.2 x 24 + 3.5 = 19.7912
    assert stepper is not None
    assert stepper.vo2 == pytest.approx(19.7912)
    assert stepper.is_in_range
    rower = cost_of(Load("rower", power_w=60, shown_mets=4.5), 80)
    assert rower is not None
    assert (rower.mets, rower.is_in_range) == (pytest.approx(4.5), False)
    assert cost_of(Load("rower", power_w=60), 80) is None
    assert cost_of(Load("strength", shown_mets=4), 80) is None


@pytest.mark.parametrize(
    ("value", "expected"),
    [(99, Fit.BELOW), (100, Fit.WITHIN), (115, Fit.WITHIN), (116, Fit.ABOVE), (None, None)],
)
def test_fit_beside_the_prescribed_range_includes_its_ends(value, expected):
    assert fit(value, 100, 115) == expected
    assert fit(value, None, 115) is None


def test_worked_bout_says_its_cost_and_where_it_lies():
    bout = Load("treadmill", 20, speed_kmh=4.2, heart_rate_bpm=118, rpe=12)
    (row,) = worked([bout], 80, (100, 115), (12, 13))
    assert row.met_minutes == pytest.approx(60)  # 3.00 METs for 20 minutes
    assert row.fits == [("HR 118", Fit.ABOVE), ("RPE 12", Fit.WITHIN)]


def test_answers_of_a_part_the_form_did_not_show_are_kept():
    stored = {"dizzy": True, "pale": True, "needed_help": True}
    before_only = Sheet(answers={"fell": False}, has_exercise_part=False)
    assert merged_answers(stored, before_only) == {
        "pale": True, "needed_help": True, "fell": False
    }  # fmt: skip
    assert merged_answers(stored, Sheet()) == {"needed_help": True}


@pytest.mark.parametrize(
    ("couplets", "triplets", "answer"),
    [(True, None, True), (None, True, True), (False, None, None), (False, False, False)],
)
def test_couplets_or_triplets_are_denied_only_when_both_are(couplets, triplets, answer):
    rhythm = Rhythm(has_couplets=couplets, has_triplets=triplets)
    assert rhythm.couplets_or_triplets is answer


def test_facts_for_the_rules_come_from_sheet_and_record():
    sheet = Sheet(
        before=Vitals(70, 130, 80, 97, None, None),
        bouts=(Load("cycle", 10, power_w=100, systolic_mmhg=150),),
    )
    known = Known(uses_insulin=True, last_weight_kg=80)
    seen = Situation(sheet, known, has_exercised=True)
    assert seen.known.uses_insulin
    assert seen.before.weight_kg is None  # a weight of another day is not today's
    assert seen.mets_of(seen.loads[0]) == pytest.approx(20.77 / 3.5)


def test_empty_pieces_know_it():
    assert Vitals().is_empty
    assert not Vitals(spo2_percent=97).is_empty
    assert Rhythm().is_empty
    assert Sheet().done == []


def test_glucose_of_126_is_6_994_mmol():
    # Worked example: 126 mg/dL is 6.994 mmol/L
    assert glucose_mmoll(126) == pytest.approx(6.994, abs=0.0005)


def test_70_m_per_minute_is_4_2_km_per_hour():
    assert kmh_from_metres_per_minute(70) == pytest.approx(4.2)


def test_every_vital_sign_is_named_and_taken_alone_or_with_its_pair():
    names = {name for group in GROUPS for name in group}
    assert names == set(Vitals.__dataclass_fields__)
    assert {group[0] for group in GROUPS} == set(IN_WORDS)
