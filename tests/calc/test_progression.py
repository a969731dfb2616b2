"""Raising a dose: published steps, and thousands of courses in which nothing leaves its limits.

Steps: duration before intensity, one variable at a time (Squires 2018,
doi:10.1097/HCR.0000000000000337); 1 to 5 min or 10 to 20 per cent of the minutes, 5 to 10 per cent
of the work (from memory of the ACSM guidelines); nothing at a caution or a hold, a step back after
two weeks away (common practice, no source).
"""

import os
from datetime import date, timedelta
from itertools import pairwise

import pytest

from patients.calc.limits import NotScorable
from programs.prescription.calc.lifts import key_of
from programs.prescription.calc.strength import BY_KEY, ORDER
from programs.review.calc.next_step import without_raise
from programs.review.calc.progression import Day, Dose, Most, Step, propose
from tests.calc.random_courses import course

MONDAY = date(2026, 3, 2)
DOSE = Dose(date(2026, 2, 20), 30, 3.0, 12, 13, 118)
MOST = Most(45, 4.0)
COURSES = int(os.environ.get("COURSES", "1000"))  # 10,000 by hand


def day(back, **more):
    plain = {"minutes": 30, "rpe": 12, "heart_rate_bpm": 110}
    return Day(MONDAY - timedelta(days=back), **plain | more)


GOOD = [day(5), day(3)]


@pytest.mark.parametrize(
    ("minutes", "longer"),
    # 10 to 20 per cent, 1 to 5 min; one minute where a fifth is less than one
    [(4, 5), (5, 6), (10, 12), (20, 23), (30, 34), (40, 45), (43, 45)],
)
def test_minutes_come_first(minutes, longer):
    dose = DOSE._replace(minutes=minutes)
    got = propose(dose, MOST, [d._replace(minutes=minutes) for d in GOOD], MONDAY)
    assert (got.step, got.minutes, got.mets) == (Step.LONGER, longer, 3.0)


@pytest.mark.parametrize(("mets", "harder"), [(2.0, 2.1), (3.0, 3.2), (3.5, 3.7), (3.9, 4.0)])
def test_then_work_by_five_to_ten_per_cent(mets, harder):
    dose = DOSE._replace(minutes=45, mets=mets)
    got = propose(dose, MOST, [d._replace(minutes=45) for d in GOOD], MONDAY)
    assert (got.step, got.minutes, got.mets) == (Step.HARDER, 45, harder)


AT_MOST = DOSE._replace(minutes=45)
DONE = [d._replace(minutes=45) for d in GOOD]


@pytest.mark.parametrize(
    ("dose", "most", "days", "why"),
    [
        (DOSE, MOST, [], "No session with exercise yet"),
        (DOSE, MOST, [day(3)], "1 session in seven days"),
        (DOSE, MOST, [day(9), day(8), day(7)], "0 sessions in seven days"),
        (DOSE._replace(from_on=date(2026, 2, 25)), MOST, GOOD, "a week of it first"),
        (DOSE, MOST, [*GOOD, day(0, level="caution", finding="ST 1 mm")], "Caution on"),
        (DOSE, MOST, [*GOOD, day(1, exercised=False, level="hold", finding="BP")], "Hold on"),
        (DOSE, MOST, [day(9), day(8, level="stop", finding="angina")], "Stop on"),
        (DOSE, MOST, [day(5), day(3, rpe=None)], "No exertion recorded on"),
        (DOSE, MOST, [day(5), day(3, minutes=None, heart_rate_bpm=None)], "No minutes and no"),
        (DOSE, MOST, [day(5), day(3, rpe=14)], "Above the range on 27 Feb 2026: RPE 14"),
        (DOSE, MOST, [day(5), day(3, heart_rate_bpm=119)], "heart rate 119"),
        (DOSE, MOST, [day(5), day(3, minutes=26)], "26 of 30 min"),
        (DOSE, None, GOOD, "No signed plan"),
        (AT_MOST, MOST, [DONE[0], DONE[1]._replace(rpe=13)], "as prescribed"),
        (AT_MOST._replace(mets=None), MOST, DONE, "No work is prescribed"),
        (AT_MOST._replace(mets=4.0), MOST, DONE, "physician's signature"),
        (AT_MOST._replace(mets=4.4), MOST, DONE, "physician's signature"),
        (AT_MOST, Most(45, None), DONE, "physician's signature"),
        (DOSE._replace(minutes=50), MOST, [d._replace(minutes=50, rpe=13) for d in GOOD], "as"),
    ],
)  # fmt: skip
def test_it_stays_as_it_is(dose, most, days, why):
    got = propose(dose, most, days, MONDAY)
    assert (got.step, got.minutes, got.mets) == (Step.KEEP, dose.minutes, dose.mets)
    assert not got.changes
    assert why in " ".join(got.reasons)


def test_a_note_or_a_heart_rate_without_a_range_holds_nothing_up():
    free = DOSE._replace(high_bpm=None)
    days = [day(5, level="note", finding="n", heart_rate_bpm=None), day(3, heart_rate_bpm=160)]
    assert propose(free, MOST, days, MONDAY).step == Step.LONGER


@pytest.mark.parametrize(
    ("dose", "days", "minutes", "mets"),
    [
        (DOSE, [day(14)], 24, 2.4),  # still away
        (DOSE._replace(from_on=date(2026, 1, 5)), [day(30), *GOOD], 24, 2.4),  # and back
        (DOSE._replace(mets=None), [day(20)], 24, None),
        (DOSE._replace(minutes=5, mets=1.5), [day(20)], 5, 1.5),
        (DOSE._replace(minutes=4, mets=1.2), [day(20)], 4, 1.2),  # a step back never raises
    ],
)
def test_two_weeks_away_are_a_step_back(dose, days, minutes, mets):
    got = propose(dose._replace(from_on=date(2026, 1, 5)), MOST, days, MONDAY)
    assert (got.step, got.minutes, got.mets) == (Step.BACK, minutes, mets)
    assert "without exercise" in got.reasons[0]


def test_who_stays_away_is_lowered_once():
    dose = DOSE._replace(from_on=date(2026, 1, 5))
    lower = propose(dose, MOST, [day(17)], MONDAY - timedelta(days=3))
    assert lower.step == Step.BACK
    taken = dose._replace(from_on=MONDAY - timedelta(days=3), minutes=lower.minutes)
    assert propose(taken, MOST, [day(17)], MONDAY + timedelta(days=7)).step == Step.KEEP


def test_a_dose_chosen_after_the_time_away_is_not_lowered_again():
    days = [day(40), *GOOD]
    assert propose(DOSE._replace(from_on=MONDAY - timedelta(days=5)), MOST, days, MONDAY).step == (
        Step.KEEP
    )


def test_too_hard_at_every_session_is_lowered():
    hard = [d._replace(rpe=15, heart_rate_bpm=120) for d in GOOD]
    got = propose(DOSE, MOST, hard, MONDAY)
    assert (got.step, got.minutes, got.mets) == (Step.BACK, 30, 2.8)
    assert "RPE 15, heart rate 120" in got.reasons[0]
    without = propose(DOSE._replace(mets=None), MOST, hard, MONDAY)
    assert (without.step, without.minutes, without.mets) == (Step.BACK, 24, None)


def test_the_future_is_refused():
    with pytest.raises(NotScorable, match="after"):
        propose(DOSE, MOST, [day(-1)], MONDAY)


def test_something_else_may_forbid_a_raise_and_never_a_step_back():
    raised = propose(DOSE, MOST, GOOD, MONDAY)
    kept = without_raise(raised, DOSE, "A new device.")
    assert (kept.step, kept.minutes, kept.reasons) == (Step.KEEP, 30, ("A new device.",))
    back = propose(DOSE, MOST, [day(14)], MONDAY)
    assert without_raise(back, DOSE, "A new device.").minutes == 24
    assert without_raise(back, DOSE, "A new device.").reasons[-1] == "A new device."


def test_no_proposal_of_thousands_leaves_the_signed_limits_or_follows_a_hold():
    raised = {Step.LONGER: 0, Step.HARDER: 0}
    for seed in range(COURSES):
        asked = course(seed)
        for one in asked:
            dose, got, days = one.dose, one.got, one.days
            if got.step not in raised:
                assert got.minutes <= dose.minutes, seed
                assert (got.mets or 0) <= (dose.mets or 0), seed
                continue
            raised[got.step] += 1
            assert one.most is not None, seed
            assert got.minutes <= max(one.most.minutes, dose.minutes), seed
            assert (got.mets or 0) <= max(one.most.mets or 0, dose.mets or 0), seed
            longer, harder = got.minutes > dose.minutes, (got.mets or 0) > (dose.mets or 0)
            assert longer != harder, seed  # one variable at a time
            if longer:
                assert got.minutes <= one.most.minutes, seed
                assert got.minutes - dose.minutes <= max(1, min(5, 0.2 * dose.minutes)), seed
            else:
                assert dose.minutes >= one.most.minutes, seed  # duration before intensity
                assert got.mets <= one.most.mets, seed
                assert got.mets <= dose.mets * 1.1 + 1e-9, seed
            week = [d for d in days if (one.on - d.on).days < 7]
            assert not {d.level for d in [*week, days[-1]]} & {"caution", "hold", "stop"}, seed
            exercised = [d.on for d in days if d.exercised]
            away = [a for a, b in pairwise([*exercised, one.on]) if (b - a).days >= 14]
            assert all((dose.from_on - last).days >= 14 for last in away), seed
            assert (one.on - dose.from_on).days >= 7, seed
            worked = [d for d in week if d.exercised]
            assert len(worked) >= 2, seed
            assert all(d.rpe is not None and d.rpe <= dose.rpe_high for d in worked), seed
        for before, after in pairwise([a for a in asked if "without" in a.got.reasons[0]]):
            left = [one.got.reasons[0].split(" after ")[1] for one in (before, after)]
            was_taken = after.dose.minutes == before.got.minutes != before.dose.minutes
            assert left[0] != left[1] or not was_taken, seed  # once for each time away
    # The search is worth something only where much was raised.
    assert raised[Step.LONGER] > COURSES / 2, raised
    assert raised[Step.HARDER] > COURSES / 50, raised


def test_no_lift_of_thousands_leaves_its_stage_or_is_raised_beside_anything():
    """Repetitions and share of the maximum of a stage: J Clin Med 2021;10:3071, Table 4."""
    counts = {"repetitions": 0, "load": 0, "stage": 0, "lowered": 0}
    for seed in range(COURSES):
        for one in course(seed):
            dose, got, training = one.dose, one.got, one.training
            if training is None:
                assert (got.strength, got.lifts) == ("", ()), seed
                continue
            before = {key_of(lift.exercise): lift for lift in training.lifts}
            after = {key_of(lift.exercise): lift for lift in got.lifts}
            assert set(before) <= set(after), seed  # no exercise is lost
            stage = BY_KEY[got.strength]
            up = []
            for key, lift in after.items():
                old = before.get(key)
                if old is None:  # taken up as it was done
                    assert lift.repetitions <= stage.repetitions[1], seed
                    continue
                more = lift.repetitions > old.repetitions
                heavier = (lift.kg or 0) > (old.kg or 0)
                assert not (more and heavier), seed  # one variable at a time
                lower = lift.repetitions < old.repetitions or (lift.kg or 0) < (old.kg or 0)
                counts["lowered"] += lower
                counts["repetitions"] += more
                counts["load"] += heavier
                up += [key] if more or heavier else []
                if more:
                    assert lift.repetitions <= stage.repetitions[1], seed
                if heavier:
                    assert lift.kg <= max(old.kg * 1.05 + 0.5, old.kg + 0.5), seed
                    most = one.maxima.get(key)
                    assert most is None or lift.kg <= max(0.5, most * stage.percent[1] / 100), seed
            counts["stage"] += got.strength != training.stage
            if not up and got.strength == training.stage:
                continue
            assert got.step == Step.RESISTANCE, seed
            assert (got.minutes, got.mets) == (dose.minutes, dose.mets), seed
            assert one.most is not None, seed
            assert ORDER[got.strength] <= ORDER[training.most], seed
            week = [d for d in one.days if (one.on - d.on).days < 7]
            assert not {d.level for d in [*week, one.days[-1]]} & {"caution", "hold", "stop"}, seed
            assert (one.on - dose.from_on).days >= 7, seed
            for key in up:
                done = [
                    lifted
                    for lifted in one.sets
                    if key_of(lifted.exercise) == key and (one.on - lifted.on).days < 7
                ]
                assert len({lifted.on for lifted in done}) >= 2, seed
                assert all((lifted.in_reserve or 0) >= 4 for lifted in done), seed
                assert all((lifted.rpe or 0) <= stage.highest_rpe for lifted in done), seed
    assert min(counts.values()) > COURSES / 500, counts
