"""A first prescription drafted from what is known: published rules, machines, strength, bounds."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from assessments.calc import metabolic
from patients.calc.limits import NotScorable, OutOfRange
from programs.prescription.calc.basis import Basis, Written, read_basis, why_review
from programs.prescription.calc.ceilings import Asked, ceilings, passed
from programs.prescription.calc.choosing import choose
from programs.prescription.calc.dose import (
    Bounds,
    Dose,
    Signed,
    beyond,
    beyond_bounds,
    volume_of_week,
)
from programs.prescription.calc.first_dose import first_dose, upper_limit_for
from programs.prescription.calc.loads import planned_loads
from programs.prescription.calc.machines import USUAL, Machine, setting_for
from programs.prescription.calc.person import Known, Present, SiteLimits, Test, Walk
from programs.prescription.calc.strength import Limitation, start_of
from programs.prescription.calc.tested import why_asked
from tests.reference import rows

TODAY = date(2027, 3, 1)  # no leap day lies in the year before
SCENARIOS = rows("prescriptions")


def ago(given, name):
    return TODAY - timedelta(days=int(given[name])) if name in given else None


def number(given, name):
    return int(given[name]) if name in given else None


def known_of(given) -> Known:
    tested = TODAY - timedelta(days=int(given.get("tested", 5)))
    test = None
    if {"peak", "vo2"} & given.keys():
        doubt = why_asked(tested, ago(given, "event_on"), TODAY, ago(given, "changed"))
        vo2 = float(given["vo2"]) if "vo2" in given else None
        test = Test(tested, number(given, "rest"), number(given, "peak"), vo2, doubt)
    walk = Walk(TODAY, float(given["walk"]), 3.0) if "walk" in given else None
    site = SiteLimits(
        highest_bpm=number(given, "most_bpm"),
        highest_rpe=int(given.get("most_rpe", 16)),
        highest_share=float(given.get("most_share", 0.8)),
        highest_mets=float(given["most_mets"]) if "most_mets" in given else None,
        icd_margin_bpm=int(given.get("margin", 10)),
    )
    present = Present(
        *[name in given for name in ["blocker", "af", "transplant", "failing", "icd"]],
        number(given, "detects"),
        number(given, "ischaemia"),
    )
    return Known(TODAY, number(given, "resting"), test, walk, present, site)


@pytest.mark.parametrize("row", SCENARIOS, ids=lambda row: row["scenario"])
def test_a_first_prescription_follows_the_published_rules(row):
    given = dict(token.split("=") for token in row["given"].split())
    found = choose(known_of(given))
    told = {
        "method": found.method,
        "low_bpm": found.low_bpm,
        "high_bpm": found.high_bpm,
        "rpe": "-".join(map(str, found.rpe)),
        "mets": found.mets,
        "limit_bpm": f"{found.ceiling.bpm:g}" if found.ceiling else None,
    }
    assert {name: "" if value is None else str(value) for name, value in told.items()} == {
        name: row[name] for name in told
    }
    assert found.lines or row["rule"] == "none"
    if row["strength_in"]:
        expect_start(row, given)


def expect_start(row, given):
    limits = []
    if "sternum" in given:
        limits.append(Limitation("Sternum", TODAY + timedelta(days=int(given["sternum"]))))
    if "access" in given:
        limits.append(Limitation("Groin", None))
    start = start_of(
        given["event"], ago(given, "event_on"), ago(given, "aerobic"), limits, on=TODAY
    )
    expected = row["strength_in"]
    days = "none" if start.earliest is None else str((start.earliest - TODAY).days)
    assert (days, start.is_open(TODAY)) == (expected, row["is_open"] == "yes")
    assert len(start.to_confirm) == len(limits)


def test_forty_scenarios_each_name_a_rule():
    assert len(SCENARIOS) >= 40
    assert all(row["rule"].startswith("H-") and row["source"] for row in SCENARIOS)
    assert len({row["scenario"] for row in SCENARIOS}) == len(SCENARIOS)


def test_a_precaution_is_told_with_its_review_and_never_lifted_by_it():
    """H-24: the date opens a task, it never lifts the restriction (project rule)."""
    past, ahead = TODAY - timedelta(days=1), TODAY + timedelta(days=1)
    limits = [Limitation("Sternum", past), Limitation("Groin", ahead), Limitation("Wrist", None)]
    told = start_of("mi", date(2020, 1, 1), date(2020, 1, 1), limits, on=TODAY).to_confirm
    assert told == (
        "Sternum; review was due 28 Feb 2027, still holds",
        "Groin; review 2 Mar 2027",
        "Wrist; no review date",
    )


def test_a_margin_that_nobody_uses_is_refused():
    """10 to 15 below the detection rate: from memory."""
    present = Present(icd=True, detection_bpm=150)
    for margin in (9, 16):
        with pytest.raises(OutOfRange, match="detection"):
            ceilings(Known(TODAY, present=present, site=SiteLimits(icd_margin_bpm=margin)))


def test_an_impossible_uptake_gives_no_work():
    for vo2 in (3.5, 91):
        known = Known(TODAY, test=Test(TODAY, peak_vo2=vo2))
        assert choose(known).mets is None
        assert first(known)["most_mets"] is None


LIMITED = Known(
    TODAY,
    test=Test(TODAY, 62, 132, 21.0),
    present=Present(ischaemia_bpm=120),
    site=SiteLimits(highest_bpm=125, highest_mets=5.0),
)
WITHIN = Asked(16, 110, 110, 5.0, 0.8)


@pytest.mark.parametrize(
    ("changes", "words"),  # at each limit and one step beyond; sources as ``person.SOURCES``
    [
        ({}, []),
        ({"high_bpm": 111, "upper_limit_bpm": 111}, ["111 /min lies above 110 /min, 10 below"]),
        ({"upper_limit_bpm": 126}, ["above 110 /min", "126 /min lies above 125 /min, the site's"]),
        ({"upper_limit_bpm": 133}, ["above 110", "above 125", "above 132 /min, the tested peak"]),
        ({"upper_limit_bpm": None}, ["no upper limit, and 110 /min is", "and 125 /min is the"]),
        ({"rpe_high": 17}, ["RPE 17 lies above 16"]),
        ({"high_share": 0.81}, ["81 % of the reserve lies above 80 %"]),
        ({"mets": 5.1}, ["5.1 METs lies above 5 METs, the site's"]),
        ({"mets": 6.1}, ["above 5 METs", "6.1 METs lies above the tested peak, 6.0 METs"]),
        ({"mets": None, "high_share": None}, []),
    ],
)
def test_a_limit_that_is_passed_is_named(changes, words):
    found = passed(LIMITED, Asked(**(WITHIN.__dict__ | changes)))
    assert len(found) == len(words)
    assert all(part in told for part, told in zip(words, found, strict=True))


def test_the_peak_a_dose_is_written_on_is_a_limit_too():
    """Never above a tested peak without a reason: common practice, no source."""
    typed = Asked(13, high_bpm=118, upper_limit_bpm=140, peak_bpm=135)
    assert passed(Known(TODAY), typed) == (
        "140 /min lies above 135 /min, the tested peak of this dose",
    )
    assert passed(Known(TODAY), replace(typed, upper_limit_bpm=135)) == ()
    assert passed(Known(TODAY), replace(typed, upper_limit_bpm=None)) == ()
    on_record = Known(TODAY, test=Test(TODAY, 62, 130))
    assert len(passed(on_record, typed)) == 1  # the one on record is told, once


def test_nothing_known_sets_no_limit():
    assert passed(Known(TODAY), Asked(13, mets=3.0)) == ()


# --- machines


def test_settings_of_every_machine_at_three_and_a_half_mets():
    """ACSM equations hand-worked for 3.5 METs and 80 kg, rounded down.

    Treadmill (12.25 - 3.5) / 0.1 = 87.5 m/min, 5.25 km/h, 5.2 set: 12.167 mL/kg/min, 3.476 METs.
    Cycle 5.25 x 80 / 11.016 = 38.1 W, 35 set: 7 + 11.016 x 35 / 80 = 11.820, 3.377 METs, under the
    49 W from which the equation holds. Arm 8.75 x 80 / 18.36 = 38.1 W, 35 set: 11.533, 3.295 METs.
    Stepper at 20 cm 8.75 / 0.6788 = 12.9, 12 set: 11.6456, 3.327 METs.
    """
    found = {kind: setting_for(machine, 3.5, 80) for kind, machine in USUAL.items()}
    assert found["treadmill"].speed_kmh == found["track"].speed_kmh == 5.2
    assert (found["cycle"].power_w, found["arm"].power_w) == (35, 35)
    assert (found["stepper"].steps_per_minute, found["stepper"].step_height_cm) == (12, 20)
    mets = {kind: one.mets and round(one.mets, 3) for kind, one in found.items()}
    assert mets == {
        "treadmill": 3.476, "cycle": 3.377, "arm": 3.295, "stepper": 3.327, "rower": None,
        "track": 3.476,
    }  # fmt: skip
    assert not found["cycle"].is_in_range
    assert "holds from 49 to 196 W" in found["cycle"].said
    assert "no ACSM equation" in found["rower"].said
    assert not found["rower"].is_set


def test_one_machine_out_of_reach_leaves_the_others_working():
    """6 METs: 175 m/min on the level, beyond the 100 that walking holds to; 17.5 - 8 = 9.5 over
    1.8 x 80 is 6.6 % at 4.8 km/h, 6.5 set."""
    found = {kind: setting_for(machine, 6, 80) for kind, machine in USUAL.items()}
    assert (found["treadmill"].speed_kmh, found["treadmill"].grade_percent) == (4.8, 6.5)
    assert not found["track"].is_set
    assert "faster than the walking equation holds (6.0 km/h)" in found["track"].said
    assert found["cycle"].power_w == 100  # 14 x 80 / 11.016 = 101.7
    typed = setting_for(USUAL["treadmill"], 6, 80, grade_percent=2)
    assert "About 7 % at 4.8 km/h costs as much" in typed.said
    steep = setting_for(USUAL["treadmill"], 6, 80, grade_percent=6)
    assert steep.speed_kmh == 5.0  # 17.5 / 0.208 = 84.1 m/min, 5.05 km/h
    assert steep.grade_percent == 6
    # 11 METs: 18.8 % is steeper than it goes; 35 / 0.2 = 175 m/min, 10.5 km/h on the level
    fast = setting_for(USUAL["treadmill"], 11, 80)
    assert (fast.speed_kmh, fast.mets) == (10.5, pytest.approx(11))
    assert "Running" in fast.said
    slow = Machine("treadmill", "T", 0.8, 8, 0.1, grade_step=0.5, most_grade=5)
    assert "faster than the walking" in setting_for(slow, 6, 80).said  # 87 m/min is no run
    imperial = Machine("treadmill", "T", 0.5, 10, 0.1, is_mph=True, grade_step=1, most_grade=5)
    # 9.809 METs is 5.5 mph at 1 % and 34.332 (Bushman 2020); level: 154.2 m/min, 5.7 mph set
    assert setting_for(imperial, 34.332 / 3.5, 80).speed_kmh == pytest.approx(9.1733, abs=1e-3)


def test_a_machine_in_mph_is_set_in_mph():
    """3.5 METs level: 87.5 m/min = 3.262 mph, 3.2 set = 85.8 m/min, 3.452 METs; hand-worked."""
    machine = Machine("treadmill", "Treadmill", 0.5, 10, 0.1, is_mph=True, grade_step=0.5,
                      most_grade=15)  # fmt: skip
    found = setting_for(machine, 3.5, None)
    assert found.speed_kmh == pytest.approx(5.14990, abs=1e-4)
    assert found.mets == pytest.approx(3.452, abs=1e-3)
    assert "mph" in setting_for(machine, 5, None, grade_percent=0).said
    assert (machine.step_words, USUAL["stepper"].step_words) == ("0.1 mph", "1 /min")
    assert USUAL["cycle"].step_words == "5 W"


@pytest.mark.parametrize(
    ("machine", "mets", "weight", "words"),
    [
        (USUAL["cycle"], 3.5, None, "Weight missing"),
        (USUAL["cycle"], 2.0, 80, "more than 2 METs"),
        (USUAL["arm"], 1.0, 80, "more than 1 MET"),
        (USUAL["stepper"], 1.0, 80, "more than 1 MET"),
        (USUAL["track"], 1.0, 80, "more than 1 MET"),
        (USUAL["cycle"], 2.1, 50, "can be set from 10"),
        (Machine("stepper", "S", 5, 60, 1), 3.5, 80, "height of its step"),
    ],
)
def test_a_machine_says_why_it_has_no_setting(machine, mets, weight, words):
    found = setting_for(machine, mets, weight)
    assert words in found.said
    assert not found.is_set


def test_a_setting_never_costs_more_than_was_asked():
    """Property over every machine, work and weight: down, never up; a slow belt is an estimate."""
    for tenth in range(11, 121):
        mets = tenth / 10
        for weight in (45, 80, 130):
            for machine in USUAL.values():
                found = setting_for(machine, mets, min(weight, 350))
                assert found.mets is None or found.mets <= mets + 1e-9
    slow = setting_for(USUAL["treadmill"], 1.8, 80)
    assert "slower than the equation holds" in slow.said


ROUND_TRIPS = [
    (metabolic.walking_speed_for, lambda kmh, g: metabolic.walking(kmh * 1000 / 60, g), 0.04),
    (metabolic.running_speed_for, lambda kmh, g: metabolic.running(kmh * 1000 / 60, g), 0.02),
    (metabolic.leg_power_for, metabolic.leg_cycling, 80),
    (metabolic.arm_power_for, metabolic.arm_cycling, 80),
    (metabolic.step_rate_for, metabolic.stepping, 20),
]


@pytest.mark.parametrize(("back", "there", "fixed"), ROUND_TRIPS)
def test_every_equation_leads_there_and_back(back, there, fixed):
    for tenth in range(25, 90):
        work = back(tenth / 10, fixed)
        if back is metabolic.step_rate_for and not 5 <= work <= 60:
            continue
        assert there(work, fixed).mets == pytest.approx(tenth / 10, abs=1e-9)


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        # ACSM running (Bushman 2020): 5.5 mph at 1 % is 34.332 mL/kg/min, 9.809 METs
        (lambda: metabolic.running_speed_for(34.332 / 3.5, 0.01), 8.8514),
        # Arm 50 W at 80 kg is 14.975 mL/kg/min (coefficients from memory), hand-worked
        (lambda: metabolic.arm_power_for(14.975 / 3.5, 80), 50.0),
        # Step 20 /min at 0.20 m is 17.076 mL/kg/min (Latin 2001), hand-worked
        (lambda: metabolic.step_rate_for(17.076 / 3.5, 20), 20.0),
        # 4 METs at 80 kg is 50.84 W; 61.05 m/min at 4 % (Bushman 2020), hand-worked
        (lambda: metabolic.leg_power_for(4, 80), 50.835),
        (lambda: metabolic.walking_speed_for(4, 0.04) * 1000 / 60, 61.0465),
    ],
)
def test_published_examples_are_solved_backwards(found, expected):
    assert found() == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(
    "refused",
    [
        lambda: metabolic.running_speed_for(1.0),
        lambda: metabolic.arm_power_for(1.0, 80),
        lambda: metabolic.step_rate_for(1.0, 20),
    ],
)
def test_rest_needs_no_work(refused):
    with pytest.raises(NotScorable):
        refused()


# --- signed limits

DOSE = Dose(13, 30, 3, high_bpm=103, upper_limit_bpm=110, mets=3.0)
SIGNED = Signed(DOSE, Bounds(rpe=14, bpm=108, mets=4.0, minutes=40, per_week=4, strength="light"))


@pytest.mark.parametrize(
    ("changes", "words"),  # at the limit and one step beyond; limits are the signer's own
    [
        ({}, ""),
        ({"rpe_high": 14}, ""),
        ({"rpe_high": 15}, "RPE 15, signed: at most 14"),
        ({"high_bpm": 108}, ""),
        ({"high_bpm": 109}, "heart rate 109 /min, signed: at most 108 /min"),
        ({"high_bpm": None}, ""),
        ({"mets": 4.0}, ""),
        ({"mets": 4.1}, "work 4.1 METs, signed: at most 4 METs"),
        ({"minutes": 40}, ""),
        ({"minutes": 41}, "time 41 min, signed: at most 40 min"),
        ({"per_week": 4}, ""),
        ({"per_week": 5}, "sessions 5 a week"),
        ({"upper_limit_bpm": 109}, ""),
        ({"upper_limit_bpm": 111}, "upper limit 111, signed: 110 /min"),
        ({"upper_limit_bpm": None}, "upper limit dropped"),
        ({"strength": "light"}, ""),
        ({"strength": "moderate"}, "resistance moderate, signed: light"),
    ],
)
def test_a_dose_is_covered_up_to_what_was_signed(changes, words):
    found = beyond(Dose(**(DOSE.__dict__ | changes)), SIGNED)
    assert [words in one for one in found] == ([True] if words else [])


def test_nothing_signed_covers_nothing():
    assert beyond(DOSE, None) == ("no dose is signed yet",)


def test_a_number_without_room_is_its_own_limit():
    alone = Signed(Dose(13, 30, 3), Bounds())
    assert beyond(Dose(13, 30, 3), alone) == ()
    asked = Dose(13, 30, 3, high_bpm=100, mets=2.0, strength="familiarise")
    assert beyond(asked, alone) == (
        "heart rate 100 /min, signed: none",
        "work 2 METs, signed: none",
        "resistance familiarisation, signed: none",
    )


def test_limits_are_widened_by_a_signature_only():
    assert beyond_bounds(SIGNED.bounds, SIGNED) == ()
    assert beyond_bounds(Bounds(), SIGNED) == ()
    wider = Bounds(rpe=15, bpm=109, mets=4.1, minutes=41, per_week=5, strength="moderate")
    assert len(beyond_bounds(wider, SIGNED)) == 6


def test_the_week_of_a_dose():
    """5 METs, 80 kg, 30 min are 210 kcal and 150 MET-min: 5 kcal a litre, hand-worked."""
    dose = Dose(13, 30, 3, mets=5.0, home_minutes=30, home_days=2)
    found = volume_of_week(dose, 80)
    assert (found.met_minutes, found.kcal, found.is_enough) == (750, pytest.approx(1050), True)
    assert volume_of_week(Dose(13, 30, 3, mets=5.0), 80).is_enough is False
    assert volume_of_week(dose, None).is_enough is None
    assert volume_of_week(Dose(13, 30, 3), 80) is None


# --- the first dose whole

OPEN = start_of("pci", TODAY - timedelta(days=60), TODAY - timedelta(days=30), on=TODAY)
CLOSED = start_of("pci", TODAY - timedelta(days=6), TODAY, on=TODAY)


def first(known, strength=OPEN, age=70):
    return first_dose(known, choose(known), strength, age)


def test_a_first_dose_of_a_test_whole():
    """62 to 132: 80 % is 118 (Karvonen 1957). Uptake 20: 80 % of 16.5 + 3.5 = 16.7, 4.77 METs.

    20 to 45 min, 3 days, warm-up 5 to 10: RACGP HANDI. Strength from 30 % of 1-RM: J Clin Med 2021.
    """
    found = first(Known(TODAY, test=Test(TODAY, 62, 132, 20.0)))
    assert found == {
        "method": "reserve", "low_percent": 40, "high_percent": 59, "rpe_low": 12, "rpe_high": 13,
        "target_mets": 2.9, "peak_vo2": 20.0, "minutes": 30, "per_week": 3, "warm_up_minutes": 5,
        "cool_down_minutes": 5, "strength": "familiarise", "strength_from": None,
        "strength_sets": 1, "strength_days": 2, "stretch_days": 3, "stretch_hold_s": 20,
        "balance_days": 3, "home_days": 2, "home_minutes": 30, "most_rpe": 16, "most_bpm": 118,
        "most_mets": 4.8, "most_minutes": 45, "most_per_week": 5, "most_strength": "moderate",
    }  # fmt: skip


def test_a_first_dose_bends_to_what_is_present():
    """H-09, H-10, from memory: RPE 11 to 14, a long warm-up; H-22: the weeks are not over."""
    moved = Known(TODAY, resting_bpm=95, present=Present(transplant=True), walk=Walk(TODAY, 2.4, 3))
    found = first(moved, CLOSED, age=None)
    assert (found["warm_up_minutes"], found["most_rpe"], found["most_bpm"]) == (10, 14, None)
    assert (found["strength"], found["strength_from"]) == ("", CLOSED.earliest)
    assert (found["balance_days"], found["most_mets"]) == (None, 3)
    limited = SiteLimits(highest_mets=2.5)
    assert first(Known(TODAY, walk=Walk(TODAY, 2.4, 3), site=limited))["most_mets"] == 2.5
    apart = Known(TODAY, resting_bpm=62, test=Test(TODAY, None, 132))
    assert first(apart)["most_bpm"] == 118
    ischaemic = Known(TODAY, test=Test(TODAY, 62, 132), present=Present(ischaemia_bpm=115))
    assert first(ischaemic)["most_bpm"] == 105


def test_the_upper_limit_that_a_form_begins_with():
    """H-07, from memory; a range of a tested peak stays under it by itself."""
    test = Test(TODAY, 62, 132)
    assert upper_limit_for(Known(TODAY)) is None
    assert upper_limit_for(Known(TODAY, test=test)) is None
    for threshold, limit in ((120, 110), (150, 132)):
        known = Known(TODAY, test=test, present=Present(ischaemia_bpm=threshold))
        assert upper_limit_for(known)[0] == limit


def test_a_session_is_divided_as_prescribed_else_in_halves():
    """Project choice."""
    loads = [{"kind": kind, "mets": mets} for kind, mets in
             [("rower", None), ("treadmill", 3.0), ("cycle", 3.0), ("arm", 3.0)]]  # fmt: skip
    halves = planned_loads(loads, 31)
    assert [(one["kind"], one["minutes"]) for one in halves] == [("treadmill", 15), ("cycle", 15)]
    loads[3]["minutes"] = 30
    assert [one["kind"] for one in planned_loads(loads, 30)] == ["arm"]


# --- what flags a dose for review

BASIS = Basis(frozenset({"Aspirin"}), frozenset({"ICD"}), date(2027, 1, 4), 80.0, date(2027, 1, 20))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, ()),
        ({"medicines": frozenset({"Aspirin", "Metoprolol"})}, ("medicine new: Metoprolol",)),
        ({"medicines": frozenset()}, ("medicine ended: Aspirin",)),
        ({"devices": frozenset({"ICD", "Pacemaker"})}, ("device new: Pacemaker",)),
        ({"event_on": date(2027, 2, 1)}, ("event of 1 Feb 2027",)),
        ({"weight_kg": 83.9}, ()),
        ({"weight_kg": 84.0}, ("weight +5 %",)),  # common practice, no source
        ({"weight_kg": 76.0}, ("weight -5 %",)),
        ({"weight_kg": None}, ()),
        ({"tested_on": date(2027, 2, 20)}, ("test of 20 Feb 2027",)),
    ],
)
def test_a_change_flags_a_dose_for_review(changes, words):
    now = Basis(**(BASIS.__dict__ | changes))
    assert why_review(Written(date(2027, 1, 25), BASIS), now) == words


def test_a_dose_without_a_basis_is_compared_by_its_day():
    written = Written(date(2027, 1, 25))
    assert why_review(written, BASIS) == ()
    later = Basis(event_on=date(2027, 1, 26), tested_on=date(2027, 1, 26))
    assert len(why_review(written, later)) == 2


def test_a_basis_is_kept_whole():
    assert read_basis(BASIS.stored()) == BASIS
    assert read_basis({}) == Basis()
