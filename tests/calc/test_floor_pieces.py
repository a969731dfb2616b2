"""Small pieces of the floor's rules that no table of cases reaches by itself."""

from datetime import UTC, datetime, timedelta

import pytest

from programs.attendance.calc.catalogue import is_lasting
from programs.attendance.calc.counting import sessions_of_day, why_not_counted
from programs.attendance.calc.derived import systolic_fall_mmhg
from programs.attendance.calc.effort import Load
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.questions import SEEN_DURING
from programs.attendance.calc.rhythm import Rhythm, st_depression_mm
from programs.attendance.calc.rules import Missing, Phase, in_words, with_rules
from programs.attendance.calc.sheet import Sheet, Vitals, merged_answers
from programs.attendance.calc.situation import Situation
from programs.attendance.calc.teaching import COMPONENTS, untaught
from programs.attendance.calc.time_line import ONE_PRESS
from programs.enrolment.calc.screen import Found, Screened
from programs.prescription.calc.intensity import heart_rate_words, rpe_words


def test_only_what_happened_in_exercise_or_needed_help_stays():
    assert is_lasting("F-02", "systolic@2")
    assert not is_lasting("E-01", "systolic")
    assert not is_lasting("F-02", "no such part")


# HCPro, APCs Insider 2010-12-10: 31 and 91 minutes; exercise on each day.
def test_a_day_without_exercise_makes_no_session():
    assert sessions_of_day(60, has_exercised=False) == 0
    assert sessions_of_day(60, has_exercised=True) == 1
    assert "No exercise" in why_not_counted(60, has_exercised=False)


def test_a_fall_is_measured_from_rest_and_from_lower_loads_only():
    def fall(rest, *loads):
        return systolic_fall_mmhg(Situation(Sheet(before=Vitals(systolic_mmhg=rest), bouts=loads)))

    # A rower shows its own METs: 3, then 4.
    first = Load("rower", shown_mets=3, systolic_mmhg=150)
    second = Load("rower", shown_mets=4, systolic_mmhg=138)
    assert fall(140, first, second) == 12
    assert fall(None, first, second) == 12
    unmeasured = Load("rower", shown_mets=3, heart_rate_bpm=100)
    assert fall(140, unmeasured, second) == 2


@pytest.mark.parametrize(
    ("change", "mm", "found"),
    [("depression", 2, 2), ("", 2, 2), ("none", None, 0), ("elevation", 2, 0), ("odd", 2, None)],
)
def test_a_depression_is_told_from_an_elevation(change, mm, found):
    assert st_depression_mm(Rhythm(st_change=change, st_mm=mm)) == found


def test_what_is_missing_is_asked_for_once_with_every_rule_that_waits():
    ids = ("E-01", "E-02", "E-01")
    asked = [Missing(rule_id, Phase.BEFORE, "pressure") for rule_id in ids]
    assert in_words(asked) == ["pressure"]
    assert with_rules(asked) == ["pressure (E-01, E-02)"]


def test_vitals_know_whether_anything_was_taken():
    assert Vitals(glucose_is_mmoll=True).is_empty
    assert not Vitals(heart_rate_bpm=60).is_empty
    assert Vitals(systolic_mmhg=120, diastolic_mmhg=70).pressure == "120/70"
    assert Vitals().pressure == ""
    assert Vitals().glucose is None


def test_the_latest_glucose_goes_by_the_clock():
    at = datetime(2026, 3, 2, 9, tzinfo=UTC)
    sheet = Sheet(
        before=Vitals(glucose_mgdl=90),
        rechecks=((at + timedelta(minutes=30), Glucose(110)), (at, Glucose(80))),
    )
    assert sheet.latest_glucose == Glucose(110)
    assert Sheet(before=Vitals(glucose_mgdl=90)).latest_glucose == Glucose(90)


def test_a_load_without_a_measurement_is_no_effort():
    bouts = [Load("treadmill", minutes=10, speed_kmh=4), Load("cycle", rpe=12)]
    assert Situation(Sheet(bouts=tuple(bouts))).at_each_load() == []


def test_answers_of_a_part_that_was_not_on_the_form_stay():
    stored = {"chest_pain": True, "dizzy_during": True}
    kept = merged_answers(stored, Sheet(asked=frozenset({"chest_pain"})))
    assert kept == {"dizzy_during": True}
    before_only = merged_answers({SEEN_DURING[0].id: True}, Sheet(has_exercise_part=False))
    assert before_only == {SEEN_DURING[0].id: True}
    assert merged_answers({SEEN_DURING[0].id: True}, Sheet()) == {}


def test_what_nobody_taught_is_named():
    taught = {COMPONENTS[0].id}
    assert COMPONENTS[0] not in untaught(taught)
    assert len(untaught(taught)) == len(COMPONENTS) - 1


def test_findings_of_a_screen_are_sentences_with_their_number():
    screened = Screened(Found.HOLD, ((Found.HOLD, "E-01", "Pressure is high."),), ())
    assert screened.sentences == ["Pressure is high. (E-01)"]


def test_ranges_in_words():
    assert heart_rate_words(90, 103) == "90–103 /min"
    assert heart_rate_words(None, 103) == heart_rate_words(90, None) == ""
    assert rpe_words(12, 13) == "RPE 12–13"


def test_the_presses_of_a_time_line_differ_and_fit_its_column():
    """What a record of a resuscitation has a line for; common practice, no source."""
    assert len({words.casefold() for words in ONE_PRESS}) == len(ONE_PRESS)
    assert all(words == words.strip() and len(words) <= 300 for words in ONE_PRESS)
