"""Treating a low: 15 g, 15 minutes, again (Turner 2019); levels after ADA 2017, Table 6.3."""

from datetime import UTC, datetime, timedelta

import pytest

from patients.calc.units import glucose_mgdl
from programs.attendance.calc.low_glucose import Checked, care_of, needs_new_ketones
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.rules_glucose import level_of_low

START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def at(minutes):
    return START + timedelta(minutes=minutes)


def check(minutes, mgdl):
    return Checked(at(minutes), Glucose(mgdl))


@pytest.mark.parametrize(
    ("mgdl", "level"), [(71, 0), (70, 0), (69, 1), (54, 1), (53, 2), (40, 2)]
)  # ADA 2017, Table 6.3; exactly 70 from memory
def test_levels_in_mgdl(mgdl, level):
    assert level_of_low(Glucose(mgdl)) == level


@pytest.mark.parametrize(("mmoll", "level"), [(4.0, 0), (3.9, 0), (3.8, 1), (3.0, 1), (2.9, 2)])
def test_levels_in_mmoll(mmoll, level):
    assert level_of_low(Glucose(glucose_mgdl(mmoll), is_mmoll=True)) == level


def test_needing_help_is_level_3_whatever_the_meter_says():
    assert level_of_low(Glucose(110), needed_help=True) == 3


@pytest.mark.parametrize("checks", [[], [check(0, 40)], [check(0, 62)]])
@pytest.mark.parametrize("given", [[], [(at(1), 15)]])
def test_a_low_that_needed_help_calls_and_never_offers_food_next(checks, given):
    # ADA 2017, Table 6.3: level 3 has no number. Nothing by mouth: common practice, no source.
    care = care_of(checks, given, at(30), needed_help=True)
    assert (care.level, care.next_step) == (3, "call")


def test_a_low_that_needed_help_is_over_once_a_check_says_so():
    assert care_of([check(0, 110)], [], at(1), needed_help=True).next_step == "over"


def test_nothing_low_and_nothing_given_needs_no_panel():
    assert care_of([check(0, 110)], [], at(1)) is None


def test_low_asks_for_carbohydrate():
    care = care_of([check(0, 62)], [], at(1))
    assert (care.level, care.next_step) == (1, "give")


def test_recheck_is_due_after_fifteen_minutes_and_not_before():
    given = [(at(1), 15)]
    early = care_of([check(0, 62)], given, at(15))
    assert (early.next_step, early.recheck_at) == ("wait", at(16))
    assert care_of([check(0, 62)], given, at(16)).next_step == "recheck"


def test_still_low_repeats_and_adds_up():
    care = care_of([check(0, 62), check(16, 66)], [(at(1), 15)], at(17))
    assert (care.next_step, care.level) == ("give", 1)
    again = care_of([check(0, 62), check(16, 66)], [(at(1), 15), (at(17), 15)], at(18))
    assert (again.next_step, again.grams_so_far) == ("wait", 30)


def test_no_longer_low_is_over_but_stays_on_the_page():
    care = care_of([check(0, 62), check(16, 96)], [(at(1), 15)], at(20))
    assert (care.next_step, care.level, care.was_low) == ("over", 0, True)


def test_given_without_any_reading_asks_for_one():
    assert care_of([], [(at(0), 15)], at(20)).next_step == "recheck"


@pytest.mark.parametrize(
    ("ketones", "earlier", "now", "again"),
    [
        ("none", 260, 300, True),
        ("none", 300, 300, False),
        ("none", 300, 260, False),
        ("none", 240, 249, False),  # below 250 mg/dL ketones are not asked for (Colberg 2016)
        ("none", 240, 250, True),
        ("none", None, 260, True),
        ("none", 260, None, False),
        ("", 260, 300, False),
    ],
)
def test_ketones_of_a_lower_glucose_do_not_cover_a_higher_one(ketones, earlier, now, again):
    assert needs_new_ketones(ketones, earlier, now) is again
