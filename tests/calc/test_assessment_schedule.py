"""When each assessment is due, and how it stands.

Six weeks and exit: common practice, no source. Every two weeks: North Carolina 10A NCAC 14F .1802.
Windows and how long exit results are sought: common practice, no source. Exit data of early
leavers, apart from last known values: common practice, no source.
"""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.calc.timing import (
    Milestone,
    Pausing,
    Standing,
    milestones,
    next_due,
    shifted,
    standings,
)

START = date(2026, 3, 2)  # a Monday


def on(days):
    return START + timedelta(days=days)


def course(pauses=(), today=START, **given):
    return milestones(START, 12, list(pauses), today, **given)


def days_of(plan):
    return [(m.kind, m.number, (m.due_on - START).days) for m in plan]


def stand(today, performed=(), excused=(), plan=None):
    """How a course stands; ``performed`` are (kind, number, day)."""
    done = {(kind, number): on(day) for kind, number, day in performed}
    found = standings(plan or course(), done, set(excused), on(today), has_left=plan is not None)
    return {(m.kind, m.number): standing for m, standing in found}


def upcoming(today, performed=(), plan=None):
    done = {(kind, number): on(day) for kind, number, day in performed}
    found = next_due(standings(plan or course(), done, set(), on(today)))
    return None if found is None else (found.kind, found.number)


def test_course_has_baseline_checks_six_weeks_and_exit():
    assert days_of(course()) == [
        ("baseline", 1, 0),
        ("informal", 2, 14),
        ("informal", 4, 28),
        ("six_weeks", 1, 42),
        ("informal", 8, 56),
        ("informal", 10, 70),
        ("exit", 1, 83),
    ]


def test_weekly_checks_keep_the_numbers_of_the_two_weekly_ones():
    weekly = days_of(course(rhythm=[(START, 7)]))
    assert set(days_of(course())) < set(weekly)
    assert [n for kind, n, _ in weekly if kind == "informal"] == [1, 2, 3, 4, 5, 7, 8, 9, 10, 11]
    assert all(isinstance(n, int) for _, n, _ in weekly)


@pytest.mark.parametrize(
    ("rhythm", "weeks"),
    [
        ([(on(30), 7)], [2, 4, 5, 7, 8, 9, 10, 11]),  # weekly from day 30 on, nothing before
        ([(on(35), 7)], [2, 4, 5, 7, 8, 9, 10, 11]),  # due on the very day of the change
        ([(on(36), 7)], [2, 4, 7, 8, 9, 10, 11]),
        ([(on(-90), 7), (on(30), 14)], [1, 2, 3, 4, 8, 10]),
        ([(on(30), 14), (on(-90), 7)], [1, 2, 3, 4, 8, 10]),  # whatever their order
    ],
)
def test_another_rhythm_touches_nothing_that_was_due_before_it(rhythm, weeks):
    found = [n for kind, n, _ in days_of(course(rhythm=rhythm)) if kind == "informal"]
    assert found == weeks


def test_short_course_has_no_six_week_reassessment():
    assert "six_weeks" not in {m.kind for m in milestones(START, 6, [], START)}
    assert "six_weeks" in {m.kind for m in milestones(START, 7, [], START)}


def test_pause_of_two_weeks_pushes_later_assessments_back():
    pause = Pausing(on(20), on(34))
    days = {(kind, number): day for kind, number, day in days_of(course([pause]))}
    assert days["informal", 2] == 14
    assert days["six_weeks", 1] == 56
    assert days["exit", 1] == 97


@pytest.mark.parametrize(("from_day", "moves"), [(41, True), (42, True), (43, False)])
def test_a_pause_moves_what_is_due_on_its_first_day_and_later(from_day, moves):
    pause = Pausing(on(from_day), on(from_day + 7))
    assert shifted(on(42), [pause], START) == (on(49) if moves else on(42))


def test_two_pauses_add_up_whatever_their_order():
    pauses = [Pausing(on(44), on(51)), Pausing(on(10), on(15))]
    assert shifted(on(42), pauses, START) == on(54)  # 5 days bring it to day 47, then 7 more


def test_open_pause_pushes_as_long_as_it_lasts():
    pause = Pausing(on(20), None)
    assert shifted(on(42), [pause], on(25)) == on(47)
    assert shifted(on(42), [pause], on(19)) == on(42)  # planned, not begun


@pytest.mark.parametrize(
    ("kind", "opens", "closes"),
    [("baseline", -14, 7), ("informal", -4, 4), ("six_weeks", -7, 7), ("exit", -7, 14)],
)
def test_windows_on_both_sides_of_every_edge(kind, opens, closes):
    milestone = Milestone(kind, 1, START)
    says = {
        opens - 1: Standing.LATER,
        opens: Standing.OPEN,
        -1: Standing.OPEN,
        0: Standing.DUE,
        closes: Standing.DUE,
        closes + 1: Standing.LATE,
    }
    assert {day: milestone.open_on(on(day)) for day in says} == says
    done = {
        opens - 1: Standing.DONE_EARLY,
        opens: Standing.DONE,
        closes: Standing.DONE,
        closes + 1: Standing.DONE_LATE,
    }
    assert {day: milestone.done_on(on(day)) for day in done} == done


def test_each_assessment_says_how_it_stands():
    done = [("baseline", 1, 20), ("informal", 2, 14)]
    assert stand(43, done, {("informal", 8)}) == {
        ("baseline", 1): Standing.DONE_LATE,
        ("informal", 2): Standing.DONE,
        ("informal", 4): Standing.MISSED,
        ("six_weeks", 1): Standing.DUE,
        ("informal", 8): Standing.EXCUSED,
        ("informal", 10): Standing.LATER,
        ("exit", 1): Standing.LATER,
    }


@pytest.mark.parametrize(("today", "standing"), [(32, Standing.DUE), (33, Standing.MISSED)])
def test_an_informal_check_is_missed_after_its_window(today, standing):
    assert stand(today)["informal", 4] is standing


@pytest.mark.parametrize(
    ("today", "baseline", "six_weeks"),
    [
        (34, Standing.LATE, Standing.LATER),
        (35, Standing.MISSED, Standing.OPEN),
        (75, Standing.MISSED, Standing.LATE),
        (76, Standing.MISSED, Standing.MISSED),
    ],
)
def test_a_formal_one_is_missed_once_the_next_formal_one_may_be_done(today, baseline, six_weeks):
    now = stand(today)
    assert (now["baseline", 1], now["six_weeks", 1]) == (baseline, six_weeks)


def test_next_due_lets_missed_informal_checks_go():
    assert upcoming(30, [("baseline", 1, 0)]) == ("informal", 4)
    assert upcoming(40, [("baseline", 1, 0)]) == ("six_weeks", 1)


def test_exit_stays_due_however_late():
    assert upcoming(200, [("baseline", 1, 0)]) == ("exit", 1)


def test_nothing_is_due_when_all_is_done():
    assert upcoming(0, days_of(course())) is None


def test_an_early_leaver_is_asked_for_exit_results():
    plan = course(left_on=on(30))
    assert days_of(plan) == [
        ("baseline", 1, 0),
        ("informal", 2, 14),
        ("informal", 4, 28),
        ("exit", 1, 30),
    ]
    assert stand(30, plan=plan)["exit", 1] is Standing.DUE
    others = {standing for key, standing in stand(30, plan=plan).items() if key[0] != "exit"}
    assert others == {Standing.MISSED}
    assert stand(60, plan=plan)["exit", 1] is Standing.DUE
    assert stand(61, plan=plan)["exit", 1] is Standing.MISSED
    assert stand(45, [("exit", 1, 40)], plan=plan)["exit", 1] is Standing.DONE


def test_who_leaves_after_the_planned_exit_keeps_its_day():
    plan = course(left_on=on(90))
    assert days_of(plan)[-1] == ("exit", 1, 83)
    assert stand(120, plan=plan)["exit", 1] is Standing.DUE
    assert stand(121, plan=plan)["exit", 1] is Standing.MISSED


def test_nothing_is_sought_of_somebody_who_died():
    assert "exit" not in {m.kind for m in course(left_on=on(30), seeks_exit=False)}


@given(
    today=st.integers(-30, 300),
    every=st.sampled_from([7, 14]),
    left=st.none() | st.integers(0, 200),
    weeks=st.integers(4, 36),
)
def test_every_assessment_stands_somehow_and_only_what_is_not_over_is_next(
    today, every, left, weeks
):
    left_on = None if left is None else on(left)
    plan = milestones(START, weeks, [], on(today), rhythm=[(START, every)], left_on=left_on)
    assert len({(m.kind, m.number) for m in plan}) == len(plan)
    found = standings(plan, {}, set(), on(today))
    upcoming = next_due(found)
    over = [standing is Standing.MISSED for _, standing in found]
    assert (upcoming is None) == all(over)


def test_milestones_have_the_names_of_the_trade():
    names = [m.name for m in course() if m.is_formal]
    assert names == ["Baseline assessment", "Six-week reassessment", "Exit assessment"]


# --- bookings, pauses that come later, and what changes with time alone -------------------------


def test_what_is_booked_for_today_or_later_is_not_missed():
    plan, booked = course(), {("informal", 2): on(19)}

    def now(today):
        found = standings(plan, {}, set(), on(today), booked=booked)
        return {(m.kind, m.number): s for m, s in found}["informal", 2]

    assert now(19) is Standing.LATE
    assert now(20) is Standing.MISSED
    assert stand(19)["informal", 2] is Standing.MISSED  # not booked


def test_a_leavers_booked_exit_is_kept_and_other_bookings_are_not():
    plan = course(left_on=on(30))
    booked = {("exit", 1): on(70), ("informal", 4): on(70)}
    found = standings(plan, {}, set(), on(65), booked=booked, has_left=True)
    now = {(m.kind, m.number): standing for m, standing in found}
    assert now["exit", 1] is Standing.LATE
    assert now["informal", 4] is Standing.MISSED


def test_a_pause_that_begins_later_makes_nothing_early():
    pause = Pausing(on(40), on(68))
    plan = course([pause])
    found = standings(plan, {("six_weeks", 1): on(38)}, set(), on(80), pauses=[pause])
    by_kind = {m.kind: (m, standing) for m, standing in found if m.is_formal}
    assert by_kind["six_weeks"][0].due_on == on(70)
    assert by_kind["six_weeks"][1] is Standing.DONE
    # A pause that begins on the very day moves the day.
    same_day = Pausing(on(38), on(66))
    now = standings(
        course([same_day]), {("six_weeks", 1): on(38)}, set(), on(80), pauses=[same_day]
    )
    assert {m.kind: s for m, s in now}["six_weeks"] is Standing.DONE_EARLY
    # An open one counts until then.
    lasting = Pausing(on(30), None)
    open_now = standings(
        course([lasting], on(80)), {("six_weeks", 1): on(38)}, set(), on(80), pauses=[lasting]
    )
    assert {m.kind: s for m, s in open_now}["six_weeks"] is Standing.DONE_EARLY
    # Done after the pause began, the window is the one it moved.
    after = standings(plan, {("six_weeks", 1): on(62)}, set(), on(80), pauses=[pause])
    assert {m.kind: s for m, s in after}["six_weeks"] is Standing.DONE_EARLY


def test_a_course_of_one_week_has_its_exit_right_after_its_baseline():
    plan = milestones(START, 1, [], START)
    assert [m.kind for m in plan] == ["baseline", "exit"]
    found = standings(plan, {}, set(), on(6))
    assert [standing for _, standing in found] == [Standing.MISSED, Standing.DUE]


def test_what_came_due_on_the_last_day_belongs_to_the_course():
    assert ("informal", 4, 28) in days_of(course(left_on=on(28)))
    assert ("informal", 4, 28) not in days_of(course(left_on=on(27)))
