"""Raising a load: repetitions first, then about five per cent, never beyond the stage.

Loads, repetitions and exertion of each stage: J Clin Med 2021;10:3071, Table 4. A load raised by
about 5 per cent once the repetitions are easy: from memory of the ACSM guidelines. Repetitions in
reserve beside exertion: Zourdos 2016, doi:10.1519/JSC.0000000000001049, from memory. One variable
at a time: Squires 2018, doi:10.1097/HCR.0000000000000337.
"""

from datetime import date, timedelta

import pytest

from programs.prescription.calc.lifts import Lift
from programs.review.calc.lifting import Lifted, Training, Turn, propose_lifts
from programs.review.calc.next_step import next_step, without_raise
from programs.review.calc.progression import Day, Dose, Most, Step

MONDAY = date(2026, 3, 2)
PRESS = Lift("Leg press", 12, 40.0)


def sets(*back, **more):
    plain = {"repetitions": 12, "kg": 40.0, "in_reserve": 5, "rpe": 12}
    return [Lifted(MONDAY - timedelta(days=n), "leg  press", **plain | more) for n in back]


def lifting(done, stage="light", most="moderate", lifts=(PRESS,), maxima=None):
    return propose_lifts(Training(stage, most, tuple(lifts)), done, maxima or {}, MONDAY)


@pytest.mark.parametrize(("done", "more"), [(10, 12), (12, 14), (14, 15)])
def test_repetitions_come_before_load(done, more):
    got = lifting(sets(5, 3, repetitions=done), lifts=[PRESS._replace(repetitions=done)])
    assert (got.turn, got.lifts) == (Turn.MORE, (Lift("Leg press", more, 40.0),))


@pytest.mark.parametrize(
    ("kg", "heavier"),
    # about 5 per cent, up to the next half kilogram
    [(5.0, 5.5), (10.0, 10.5), (20.0, 21.0), (40.0, 42.0), (45.0, 47.5), (100.0, 105.0)],
)
def test_then_the_load_by_about_five_per_cent(kg, heavier):
    top = PRESS._replace(repetitions=15, kg=kg)
    got = lifting(sets(5, 3, repetitions=15, kg=kg), lifts=[top])
    assert (got.turn, got.lifts) == (Turn.MORE, (Lift("Leg press", 15, heavier),))


TOP = PRESS._replace(repetitions=15)


@pytest.mark.parametrize(
    ("done", "given", "why"),
    [
        ([], {}, ""),
        (sets(3), {}, "1 session in seven days"),
        (sets(9, 3), {}, "1 session in seven days"),
        (sets(5, 3, in_reserve=3), {}, "as prescribed"),
        ([*sets(5), *sets(3, in_reserve=None)], {}, "no repetitions in reserve recorded on 27 Feb"),
        ([*sets(5), *sets(3, repetitions=None)], {}, "no repetitions recorded"),
        ([*sets(5), *sets(3, in_reserve=1)], {}, "too hard on 27 Feb 2026"),
        ([*sets(5), *sets(3, rpe=14)], {}, "too hard on 27 Feb 2026"),
        (sets(5, 3, repetitions=10), {}, "less than prescribed"),
        (sets(5, 3, kg=35.0), {}, "less than prescribed"),
        (sets(5, 3), {"stage": "moderate", "most": "light"}, "No signed plan"),
        (sets(5, 3), {"most": ""}, "No signed plan"),
        (
            sets(5, 3, repetitions=15),
            {"lifts": [TOP], "maxima": {"leg press": 80.0}},
            "50 % of the tested maximum",
        ),
        (
            sets(5, 3, repetitions=15, kg=None),
            {"lifts": [TOP._replace(kg=None)]},
            "no load is recorded",
        ),
    ],
)
def test_it_stays_as_it_is(done, given, why):
    got = lifting(done, **given)
    assert got.turn == Turn.SAME
    assert got.lifts == tuple(given.get("lifts", [PRESS]))
    assert why in " ".join(got.reasons)


def test_under_a_precaution_nothing_is_raised_and_something_still_lowered():
    """Precautions are lifted by a clinician, never by a date: reference of ``strength.py``."""
    held = Training("light", "moderate", (PRESS,), ("sternum: no more than 10 lb",))
    easy = propose_lifts(held, sets(5, 3), {}, MONDAY)
    assert (easy.turn, easy.lifts) == (Turn.SAME, (PRESS,))
    assert "precaution: sternum: no more than 10 lb" in easy.reasons[0]
    assert propose_lifts(held, sets(5, 3, in_reserve=0), {}, MONDAY).turn == Turn.LESS
    assert propose_lifts(held, [], {}, MONDAY).reasons == ()


def test_a_tested_maximum_bounds_the_load():
    """Light resistance ends at 50 per cent of the one-repetition maximum."""
    got = lifting(sets(5, 3, repetitions=15), lifts=[TOP], maxima={"leg press": 82.0})
    assert got.lifts == (Lift("Leg press", 15, 41.0),)


@pytest.mark.parametrize(
    ("hard", "stage"), [({"in_reserve": 1}, "light"), ({"rpe": 14}, "light"), ({"rpe": 12}, "")]
)
def test_too_hard_at_each_session_is_lowered(hard, stage):
    got = lifting(sets(5, 3, **hard), stage=stage or "familiarise")
    assert (got.turn, got.lifts) == (Turn.LESS, (Lift("Leg press", 12, 36.0),))


def test_what_is_too_hard_and_cannot_be_lighter_says_so():
    least = Lift("Leg press", 1, None)
    got = lifting(sets(5, 3, repetitions=1, kg=None, in_reserve=0), lifts=[least])
    assert (got.turn, got.lifts) == (Turn.SAME, (least,))
    assert "another exercise" in got.reasons[0]


def test_nothing_is_raised_beside_what_is_lowered():
    row = [one._replace(exercise="Row", in_reserve=0) for one in sets(5, 3)]
    both = [PRESS, Lift("Row", 12, 40.0)]
    got = lifting([*sets(5, 3), *row], lifts=both)
    assert (got.turn, got.lifts) == (Turn.LESS, (PRESS, Lift("Row", 12, 36.0)))


def test_what_was_done_without_being_prescribed_is_taken_up_inside_the_stage():
    got = lifting(sets(5, 3, repetitions=20), lifts=[])
    assert got.lifts == (Lift("leg  press", 15, 42.0),)


def test_after_familiarisation_the_next_stage():
    """About 30 per cent, 5 to 10 repetitions: what follows is the next stage, not more load."""
    ten = PRESS._replace(repetitions=10)
    easy = sets(5, 3, repetitions=10, rpe=10)
    got = lifting(easy, stage="familiarise", lifts=[ten])
    assert (got.turn, got.stage, got.lifts) == (Turn.MORE, "light", (ten,))
    unsigned = lifting(easy, stage="familiarise", most="familiarise", lifts=[ten])
    assert (unsigned.turn, unsigned.stage) == (Turn.SAME, "familiarise")
    assert "physician" in unsigned.reasons[0]


# --- beside aerobic exercise ---------------------------------------------------------------------

DOSE = Dose(date(2026, 2, 20), 30, 3.0, 12, 13, 118)
MOST = Most(45, 4.0)
GOOD = [Day(MONDAY - timedelta(days=n), minutes=30, rpe=12, heart_rate_bpm=110) for n in (5, 3)]
TRAINING = Training("light", "moderate", (PRESS,))


def step(dose=DOSE, most=MOST, days=GOOD, done=None, **more):
    done = sets(5, 3) if done is None else done
    return next_step(dose, most, days, MONDAY, training=TRAINING, sets=done, **more)


def test_one_thing_is_raised_and_they_take_turns():
    first = step()
    assert (first.step, first.minutes, first.lifts) == (Step.LONGER, 34, (PRESS,))
    second = step(raised_last=Step.LONGER)
    assert (second.step, second.minutes, second.mets) == (Step.RESISTANCE, 30, 3.0)
    assert second.lifts == (Lift("Leg press", 14, 40.0),)
    assert step(raised_last=Step.RESISTANCE).step == Step.LONGER


def test_resistance_goes_on_where_minutes_and_work_are_as_signed():
    days = [day._replace(rpe=13) for day in GOOD]
    got = step(most=Most(30, 3.0), days=days)
    assert (got.step, got.minutes) == (Step.RESISTANCE, 30)


@pytest.mark.parametrize(
    "given",
    [
        {"most": None},
        {"days": [*GOOD, Day(MONDAY, level="caution", finding="ST 1 mm")]},
        {"days": [GOOD[0], GOOD[1]._replace(rpe=14)]},
        {"days": [GOOD[0], GOOD[1]._replace(minutes=None)]},
        {"days": [GOOD[0], GOOD[1]._replace(minutes=20)]},
        {"days": GOOD[:1]},
        {"dose": DOSE._replace(from_on=date(2026, 2, 25))},
    ],
)
def test_no_lift_is_raised_in_a_week_that_was_not_as_prescribed(given):
    got = step(raised_last=Step.LONGER, **given)
    assert (got.step, got.lifts) == (Step.KEEP, (PRESS,))
    assert "Leg press" not in " ".join(got.reasons)  # nothing is said of what is not offered


def test_two_weeks_away_lower_the_lifts_too():
    away = [Day(MONDAY - timedelta(days=20), minutes=30, rpe=12)]
    got = step(dose=DOSE._replace(from_on=date(2026, 1, 5)), days=away, done=[])
    assert (got.step, got.minutes, got.lifts) == (Step.BACK, 24, (Lift("Leg press", 12, 32.0),))


def test_lifts_that_are_too_hard_go_back_alone():
    got = step(done=sets(5, 3, in_reserve=0))
    assert (got.step, got.minutes, got.mets) == (Step.BACK, 30, 3.0)
    assert got.lifts == (Lift("Leg press", 12, 36.0),)


def test_both_too_hard_go_back_together():
    got = step(days=[day._replace(rpe=15) for day in GOOD], done=sets(5, 3, in_reserve=0))
    assert (got.step, got.mets, got.lifts[0].kg) == (Step.BACK, 2.8, 36.0)
    assert len(got.reasons) == 3


def test_without_resistance_nothing_is_said_of_lifts():
    got = next_step(DOSE, MOST, GOOD, MONDAY, sets=sets(5, 3))
    assert (got.step, got.strength, got.lifts) == (Step.LONGER, "", ())


def test_something_else_may_forbid_more_resistance():
    raised = step(raised_last=Step.LONGER)
    kept = without_raise(raised, DOSE, "A new device.", TRAINING)
    assert (kept.step, kept.strength, kept.lifts) == (Step.KEEP, "light", (PRESS,))
