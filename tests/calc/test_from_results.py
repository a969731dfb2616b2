"""What results offer to a prescription.

Shares of the uptake reserve: Garber 2011; worked example: peak 20 mL/kg/min, 40 to 59 % of the
reserve is 10.10 to 13.235 mL/kg/min, 2.886 to 3.781 METs (decimal arithmetic, 3.5 mL/kg/min a MET).
"""

from datetime import date

import pytest

from assessments.calc.catalogue import BY_KEY
from programs.prescription.calc.from_results import (
    Found,
    InForce,
    Ischaemia,
    RatesTested,
    Work,
    exceeding,
    first_values,
    offer,
    resting_since,
    threshold_below,
)
from programs.prescription.calc.intensity import UpperLimit, mets_between
from programs.prescription.calc.tested import why_asked

EARLY, LATE = date(2026, 3, 2), date(2026, 4, 13)


def found(key, value, on=EARLY, derived=None, **inputs):
    measure = BY_KEY[key]
    shown = "" if value is None else f"{value:.{measure.digits}f}"
    return Found(value, inputs, derived or {}, on, measure.name, shown)


def of(*results, ischaemia=()):
    keys = {measure.name: key for key, measure in BY_KEY.items()}
    return offer({keys[r.name]: r for r in results}, ischaemia)


def test_worked_example_of_the_uptake_reserve():
    assert mets_between(20, (0.40, 0.59)) == pytest.approx((2.8857, 3.7814), abs=0.0001)


def test_nothing_measured_offers_nothing():
    empty = of()
    assert (empty.tested, empty.work, empty.resting, empty.lines) == (None, None, None, ())


def test_a_measured_capacity_comes_before_an_estimated_one_and_the_walk():
    peak = found("peak_oxygen_uptake", 20.0)
    cycle = found("cycle_stages", 28.0, LATE)
    walk = found("six_minute_walk", 450.0, LATE, {"mean_mets": 3.14})
    assert of(peak, cycle, walk).work == Work(2.9, EARLY, True, 2.9, 20.0)
    # 3.5 + 0.4 x 24.5 = 13.3; / 3.5
    assert of(cycle, walk).work == Work(3.8, LATE, True, 3.8, 28.0)
    assert of(walk).work == Work(2.7, LATE, False, 3.1)
    assert (
        "20.0 mL/kg/min (2 Mar 2026): 40 to 59 % of the uptake reserve is 2.9 to 3.8 METs."
        in (of(peak).lines[0])
    )


def test_an_uptake_no_higher_than_rest_gives_no_work():
    assert of(found("peak_oxygen_uptake", 3.5)).work is None
    assert of(found("peak_oxygen_uptake", None)).work is None
    assert of(found("six_minute_walk", 200.0)).work is None  # no mean cost below 300 m


def test_an_uptake_little_above_rest_still_gives_work():
    # 3.5 + 0.4 x 0.5 = 3.7; / 3.5 = 1.057
    assert of(found("peak_oxygen_uptake", 4.0)).work == Work(1.1, EARLY, True, 1.1, 4.0)


def test_a_first_target_is_not_the_whole_of_the_walking_speed():
    """80 % of the mean speed: Zainuldin 2015, from memory. Hand-worked with the ACSM equation:

    450 m are 75 m/min, 7.5 + 3.5 = 11.0, 3.14 METs; 60 m/min, 6.0 + 3.5 = 9.5, 2.71 METs.
    """
    walk = found("six_minute_walk", 450.0, LATE, {"mean_mets": 11.0 / 3.5})
    offered = of(walk)
    assert offered.work == Work(2.7, LATE, False, 3.1)
    assert offered.lines == (
        "Mean cost of the six-minute walk (13 Apr 2026): 3.1 METs; "
        "80 % of its speed, to begin with: 2.7 METs.",
    )


@pytest.mark.parametrize("vo2", [90.0, 90.1])
def test_a_capacity_nobody_has_gives_no_work_and_no_error(vo2):
    """90 mL/kg/min is the highest uptake taken (project choice)."""
    offered = of(found("cycle_stages", vo2))
    assert (offered.work is None) is (vo2 > 90)
    assert ("no work is taken from it" in offered.lines[0]) is (vo2 > 90)


@pytest.mark.parametrize("rest", [{}, {"resting_bpm": 62}])
def test_of_one_day_the_test_with_a_resting_rate_counts(rest):
    peak = found("peak_oxygen_uptake", 20.0, LATE, peak_bpm=132, **rest)
    index = found("chronotropic_index", 0.7, LATE, peak_bpm=134, resting_bpm=64)
    expected = RatesTested(62, 132, LATE) if rest else RatesTested(64, 134, LATE)
    assert of(peak, index).tested == expected
    newer = found("peak_oxygen_uptake", 20.0, LATE, peak_bpm=132)
    older = found("chronotropic_index", 0.7, EARLY, peak_bpm=134, resting_bpm=64)
    assert of(newer, older).tested == RatesTested(None, 132, LATE)


@pytest.mark.parametrize(
    ("newest", "bpm", "said"),
    [
        ({}, 120, "notes none"),
        ({"ischaemia_bpm": 130}, 120, "notes 130 /min"),
        ({"ischaemia_bpm": 110}, 110, ""),
    ],
)
def test_an_ischaemic_threshold_outlives_a_newer_test_without_one(newest, bpm, said):
    """Only somebody who decides takes it back (project choice, the safer side)."""
    test = found("peak_oxygen_uptake", 20.0, LATE, **newest)
    offered = of(test, ischaemia=[Ischaemia(126, EARLY), Ischaemia(120, EARLY)])
    assert offered.ischaemia_bpm == bpm
    lines = " ".join(offered.lines)
    assert f"Ischaemic threshold at {bpm} /min" in lines
    assert ("the lowest since the event counts" in lines) is bool(said)
    assert said in lines


def test_an_ischaemic_threshold_counts_without_any_newer_test():
    assert of(ischaemia=[Ischaemia(120, EARLY)]).ischaemia_bpm == 120


def test_the_newest_tested_peak_is_offered_never_a_predicted_one():
    peak = found("peak_oxygen_uptake", 20.0, EARLY, peak_bpm=132, resting_bpm=62)
    index = found("chronotropic_index", 0.7, LATE, peak_bpm=140, resting_bpm=64)
    assert of(peak).tested == RatesTested(62, 132, EARLY)
    assert of(peak, index).tested == RatesTested(64, 140, LATE)
    assert of(found("peak_oxygen_uptake", 20.0)).tested is None
    assert of(found("resting_heart_rate", 63.6)).resting.bpm == 64


def test_thresholds_are_named_with_their_day():
    test = found(
        "peak_oxygen_uptake", 20.0, EARLY, {"first_threshold_percent": 61.0},
        vt1_bpm=98, ischaemia_bpm=120,
    )  # fmt: skip
    offered = of(test)
    assert (offered.threshold_bpm, offered.ischaemia_bpm) == (98, 120)
    assert "First threshold at 98 /min, 61 % of the peak uptake (2 Mar 2026)." in offered.lines
    assert "Ischaemic threshold at 120 /min (2 Mar 2026)." in offered.lines
    bare = of(found("peak_oxygen_uptake", 20.0, vt1_bpm=98))
    assert "First threshold at 98 /min (2 Mar 2026)." in bare.lines
    assert "VE/VCO₂ slope 34.0." in of(found("ve_vco2_slope", 34.0)).lines


# --- first values of a form: order of the sources is a project choice -----------------------------

NOTHING = of()
TESTED = of(found("peak_oxygen_uptake", 20.0, LATE, peak_bpm=132, resting_bpm=62))
WALKED = of(found("six_minute_walk", 450.0, LATE, {"mean_mets": 3.14}))


def in_force(since=EARLY, **values):
    return InForce(since, {"method": "exertion", "target_mets": 3.5, "tested_on": None} | values)


def test_nothing_known_proposes_exertion_alone():
    assert first_values(NOTHING, None, None) == {"method": "exertion"}
    drafted = {"method": "talk", "minutes": 30}
    assert first_values(NOTHING, None, None, drafted) == drafted
    carried = first_values(NOTHING, in_force(minutes=20), None, drafted)
    assert carried["minutes"] == 20  # what is in force comes before a first draft


def test_a_test_newer_than_the_dose_gives_rates_and_work():
    values = first_values(TESTED, in_force(), None)
    assert (values["method"], values["resting_bpm"], values["peak_bpm"]) == ("reserve", 62, 132)
    assert (values["tested_on"], values["target_mets"]) == (LATE, 2.9)  # a capacity may lower it


def test_a_test_older_than_the_dose_changes_nothing():
    assert first_values(TESTED, in_force(LATE), None)["target_mets"] == 3.5
    assert first_values(TESTED, in_force(LATE), None)["method"] == "exertion"
    assert "peak_bpm" not in first_values(TESTED, in_force(tested_on=LATE), None)


def test_a_test_without_a_resting_rate_takes_the_one_measured_at_rest():
    test = found("peak_oxygen_uptake", 20.0, LATE, peak_bpm=132)
    rest = found("resting_heart_rate", 66, EARLY)
    values = first_values(of(test, rest), None, None)
    assert (values["resting_bpm"], values["peak_bpm"]) == (66, 132)


def test_a_rate_at_rest_alone_changes_no_range():
    """Karvonen 1957 takes rest and peak of one person in one state: 60 and 140 at half the reserve
    give 100, a pulse of 90 at rest beside the same peak would give 115."""
    rested, dose = of(found("resting_heart_rate", 90, LATE)), in_force(resting_bpm=60)
    assert first_values(rested, dose, None)["resting_bpm"] == 60
    assert first_values(rested, in_force(), None)["resting_bpm"] == 90  # there was none
    told = resting_since(rested, dose)
    assert told is not None
    assert (told.bpm, told.on) == (90, LATE)
    assert resting_since(rested, in_force(LATE, resting_bpm=60)) is None  # not measured since
    assert resting_since(rested, in_force(resting_bpm=90)) is None
    assert resting_since(rested, in_force(resting_bpm=81)) is None  # 10 or more: project choice
    assert resting_since(rested, in_force(resting_bpm=80)) is not None
    assert resting_since(rested, in_force()) is None
    assert resting_since(rested, None) is None
    assert resting_since(NOTHING, dose) is None


def test_a_newer_test_brings_its_own_rest_or_the_newest():
    dose = in_force(resting_bpm=60)
    assert first_values(TESTED, dose, None)["resting_bpm"] == 62
    test, rest = (
        found("peak_oxygen_uptake", 20.0, LATE, peak_bpm=132),
        found("resting_heart_rate", 66, LATE),
    )
    assert first_values(of(test, rest), dose, None)["resting_bpm"] == 66
    assert first_values(of(test), dose, None)["resting_bpm"] == 60


def test_a_walk_never_lowers_the_work_in_force():
    assert first_values(WALKED, in_force(), None)["target_mets"] == 3.5
    assert first_values(WALKED, in_force(target_mets=2.5), None)["target_mets"] == 2.7
    assert first_values(WALKED, None, None)["target_mets"] == 2.7


@pytest.mark.parametrize(("known", "expected"), [(None, 110), (120, 110), (110, 110), (105, 105)])
def test_an_upper_limit_changes_only_to_a_lower_one(known, expected):
    limit = UpperLimit(110, "10 below the ischaemic threshold")
    values = first_values(NOTHING, in_force(upper_limit_bpm=known), limit)
    assert values["upper_limit_bpm"] == expected
    assert ("upper_limit_reason" in values) == (known is None or known > 110)


def test_a_range_above_the_first_threshold_is_named():
    test = of(found("peak_oxygen_uptake", 20.0, vt1_bpm=98))
    assert threshold_below(99, test) == 98
    assert threshold_below(98, test) is None
    assert threshold_below(None, test) is None
    assert threshold_below(120, NOTHING) is None


def test_work_above_what_the_tests_offer_is_named():
    assert exceeding(3.4, WALKED) == 3.4
    assert exceeding(3.1, WALKED) is None
    assert exceeding(None, WALKED) is None
    assert exceeding(3.4, NOTHING) is None


@pytest.mark.parametrize(
    ("tested", "day", "asked"),
    [
        (date(2025, 3, 2), date(2026, 3, 2), False),  # the same day a year later
        (date(2025, 3, 1), date(2026, 3, 2), True),
        (date(2024, 2, 29), date(2025, 2, 28), False),
        (date(2024, 2, 29), date(2025, 3, 1), True),
    ],
)
def test_a_test_older_than_a_year_is_asked_about(tested, day, asked):
    """By the calendar; common practice, no source."""
    assert bool(why_asked(tested, None, day)) is asked
