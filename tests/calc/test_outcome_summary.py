"""One person's outcomes: places on the scale, lines, headline, what is missing, sessions.

Meaningful changes and errors are those of the measures (fixtures/reference/meaningful_changes.csv);
what is said is a project choice.
"""

from datetime import date

import pytest

from assessments.calc.catalogue import BY_KEY, MEASURES
from reports.calc.attended import Done, Dose, Session, done_in, dose_on, in_range, tally, within
from reports.calc.change import Point, compare
from reports.calc.domains import DOMAIN_OF, DOMAINS
from reports.calc.headline import headline, lacking
from reports.calc.scale import Axis, Mark, Placed, axis_of, is_on_scale, place
from reports.calc.summary import (
    NOT_YET,
    Held,
    grouped,
    line_of,
    reached,
    why_missing,
)

FIRST, LATER, LAST = date(2026, 1, 5), date(2026, 2, 16), date(2026, 4, 1)
DAYS = {"baseline": FIRST, "six_weeks": LATER, "exit": LAST}
ALL_DONE = {stage: Held(day) for stage, day in DAYS.items()}


def row(key, inputs=None, says=None, derived=None, **values):
    inputs, says, derived = inputs or {}, says or {}, derived or {}
    points = {
        stage: Point(
            value,
            DAYS[stage],
            "v1",
            inputs.get(stage, {}),
            interpretation=says.get(stage, ""),
            derived=derived.get(stage, {}),
        )
        for stage, value in values.items()
    }
    return compare(BY_KEY[key], points, [points[stage] for stage in DAYS if stage in points])


def line(found, held=ALL_DONE, stage="exit", is_open=False):
    return line_of(found, held, stage, is_open=is_open)


def told(lines, stage="exit", missing=""):
    parts = headline(lines, stage, n_counted=27, n_planned=36, lacking=missing)
    return " ".join(part.words for part in parts)


def test_every_measure_stands_in_one_domain():
    everywhere = [measure.key for _, measures in DOMAINS for measure in measures]
    assert sorted(everywhere) == sorted(measure.key for measure in MEASURES)
    assert len(DOMAIN_OF) == len(MEASURES)


@pytest.mark.parametrize(
    ("key", "first", "last", "at", "is_meaningful"),
    [
        # by hand: +66 m of 25 m (Gremeaux 2011) and 2.6 s fewer of 1.7 s (Jones 2013)
        ("six_minute_walk", 402, 468, 66 / 25, True),
        ("five_times_sit_to_stand", 14.2, 11.6, 2.6 / 1.7, True),
        ("gait_speed", 0.98, 1.01, 0.6, False),
        ("gad7", 5, 9, -1, True),  # 4 points more, of 4 (Toussaint 2020): to the left
        ("phq9", 11, 11, 0, False),
        # 30 m is meaningful, and less than the error of 32.4 m found in heart failure
        ("six_minute_walk", 400, 430, 1.2, True),
    ],
)
def test_a_change_is_placed_in_its_own_meaningful_changes(key, first, last, at, is_meaningful):
    placed = place(row(key, baseline=first, exit=last))
    assert placed.exit.at == pytest.approx(at)
    assert placed.exit.is_meaningful is is_meaningful
    assert placed.six_weeks is None


def test_what_has_no_agreed_change_or_no_direction_is_not_on_the_scale():
    assert place(row("body_mass_index", baseline=26.0, exit=25.0)) is None
    assert place(row("resting_blood_pressure", baseline=142, exit=126)) is None
    assert {m.key for m in MEASURES if is_on_scale(m)} == {
        *["six_minute_walk", "incremental_shuttle_walk", "peak_oxygen_uptake"],
        *["five_times_sit_to_stand", "chair_stand_30s", "gait_speed", "timed_up_and_go"],
        *["grip_strength", "phq9", "gad7", "physical_functioning"],
    }


def test_another_corridor_has_no_mark_and_says_which():
    walk = row(
        "six_minute_walk",
        {"baseline": {"course_m": 30.0}, "six_weeks": {"course_m": 20.0}, "exit": {"course_m": 30}},
        baseline=402,
        six_weeks=431,
        exit=468,
    )
    placed = place(walk)
    assert placed.six_weeks is None
    assert placed.exit is not None
    found = line(walk)
    assert not found.stages[1].compares
    assert found.stages[1].why == "course length 20 m, was 30 m"
    assert found.notes == ("six weeks not compared: not the same variant of the test",)
    assert found.change == "+66"


@pytest.mark.parametrize(
    ("key", "before", "after", "why"),
    [
        ("timed_up_and_go", {}, {"used_aid": True}, "yes, was not recorded"),
        ("timed_up_and_go", {"used_aid": True}, {"used_aid": False}, "no, was yes"),
        ("incremental_shuttle_walk", {}, {"equation": 2}, ", was "),
    ],
)
def test_a_variant_is_told_in_the_words_of_its_box(key, before, after, why):
    found = line(row(key, {"baseline": before, "exit": after}, baseline=300, exit=310))
    assert why in found.stages[2].why
    assert found.change == ""


def test_the_error_is_a_band_only_where_one_is_on_record():
    assert place(row("six_minute_walk", baseline=400)).error == pytest.approx(32.4 / 25)
    assert place(row("gait_speed", baseline=1.0)).error is None


def test_an_axis_holds_every_mark_up_to_its_ends():
    assert axis_of([]) == Axis(-1, 1)
    assert axis_of([Placed(Mark(2.64, True), Mark(-1.2, True), 1.3)]) == Axis(-2, 3)
    far = axis_of([Placed(None, Mark(9.0, True), None), Placed(Mark(-7.0, True), None, None)])
    assert far == Axis(-4, 6)
    assert (far.share(9.0), far.share(-7.0), far.share(1.0)) == (100, 0, 50)
    assert (far.holds(9.0), far.holds(6.0)) == (False, True)
    assert list(Axis(-1, 1).ticks) == [-1, 0, 1]


def test_what_the_axis_cannot_show_is_said():
    """By hand: 16 to 28 mL/kg/min is 12 of 1.0."""
    far = line(row("peak_oxygen_uptake", baseline=16.0, exit=28.0))
    assert far.notes == ("12.0 meaningful changes, more than the figure shows",)
    assert line(row("peak_oxygen_uptake", baseline=16.0, exit=18.0)).notes == ()


@pytest.mark.parametrize(
    ("held", "is_open", "why"),
    [
        (None, True, NOT_YET),
        (None, False, "no assessment"),
        (Held(planned_on=LAST), True, NOT_YET),
        (Held(planned_on=LAST), False, "no assessment"),
        (Held(because="moved away"), False, "moved away"),
        (Held(because="moved away"), True, "moved away"),
        (Held(LAST), False, "not done"),
        (Held(LAST, tests=("phq9",)), True, "chosen, not recorded"),
        (Held(LAST, tests=("phq9",), in_error=frozenset(["phq9"])), True, "entered in error"),
    ],
)
def test_a_gap_says_why_as_far_as_it_is_recorded(held, is_open, why):
    assert why_missing(held, "phq9", is_open=is_open) == why


def test_the_page_is_about_the_exit_once_there_is_one():
    some = [row("phq9", baseline=9, six_weeks=7)]
    assert reached(some, {}, is_open=True) == "six_weeks"
    assert reached(some, {}, is_open=False) == "exit"
    assert reached(some, {"exit": Held(LAST)}, is_open=True) == "exit"
    assert reached([row("phq9", baseline=9, exit=7)], {}, is_open=True) == "exit"


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"six_weeks": 7}, "no baseline: nothing to compare with"),
        ({"baseline": 9}, "nothing to compare yet"),
        ({"baseline": None}, "no number to compare"),
        ({"baseline": 9, "exit": None}, "no number to compare"),
        ({"baseline": 12, "six_weeks": 6}, "six weeks: better, meaningful"),
    ],
)
def test_without_a_change_the_line_says_what_there_is(values, said):
    assert line(row("phq9", **values)).words == said


def test_a_class_that_was_crossed_is_named_and_a_way_of_estimating_is_none():
    low, high = "low (0.8 m/s or less), household walker", "above 0.8 m/s, community walker"
    walk = row("gait_speed", says={"baseline": low, "exit": high}, baseline=0.7, exit=0.9)
    assert line(walk).notes == (f"{low} → {high}",)
    same = row("gait_speed", says={"baseline": low, "exit": low}, baseline=0.7, exit=0.75)
    assert line(same).notes == ()
    says = {"baseline": "estimated from 11 repetitions", "exit": "estimated from 8 repetitions"}
    assert line(row("one_repetition_maximum", says=says, baseline=40, exit=50)).notes == ()


def test_predicted_values_have_an_arrow_only_where_they_compare():
    derived = {"baseline": {"percent_predicted": 84.6}, "exit": {"percent_predicted": 98.7}}
    one = row("six_minute_walk", derived=derived, baseline=402, exit=468)
    assert line(one).predicted == "85 → 99"
    other = row(
        "six_minute_walk", {"exit": {"course_m": 20}}, derived=derived, baseline=402, exit=468
    )
    assert line(other).predicted == "85, 99"
    assert line(row("phq9", baseline=9, exit=4)).predicted == ""


def test_goals_stand_at_three_dates_and_missing_is_not_unmet():
    found = line(row("activity_minutes", baseline=40, exit=160))
    (goal,) = found.goals
    assert (goal.marks, goal.level) == ("◇ · ◆", 150)
    assert goal.told.endswith("baseline not met, six weeks not measured, exit met")
    assert found.stages[1].why == "not done"
    assert found.stages[1].is_missing
    (tobacco,) = line(row("tobacco", baseline=3, exit=1)).goals
    assert tobacco.level is None


def test_the_headline_says_each_kind_of_verdict():
    lines = [
        line(row("six_minute_walk", baseline=402, exit=468)),
        line(row("chair_stand_30s", baseline=10, exit=13)),
        line(row("gait_speed", baseline=0.98, exit=1.01)),
        line(row("gad7", baseline=5, exit=9)),
        line(row("activity_minutes", baseline=40, exit=130)),
        line(row("tobacco", baseline=3, exit=1)),
    ]
    words = told(lines, missing="LDL (not done)")
    assert words.startswith("27 of 36 sessions. Baseline to exit:")
    assert "Six-minute walk and 30-second chair stand improved by a meaningful amount." in words
    assert "Usual gait speed did not change by as much as matters." in words
    assert "GAD-7 became worse by a meaningful amount." in words
    assert "Goals met: no tobacco. Goals not met: activity at least 150 min/week." in words
    assert words.endswith("Missing at exit: LDL (not done).")
    assert [one.is_alarm for one in lines] == [False, False, False, True, False, False]
    assert [name for name, _ in grouped(lines)] == [
        *["Endurance", "Walking and standing up", "Mood", "Risk factors", "Habits"],
    ]


def test_meaningful_within_the_error_is_neither_chance_nor_improved():
    words = told(
        [line(row("six_minute_walk", baseline=400, six_weeks=430), stage="six_weeks")], "six_weeks"
    )
    assert "as much as has mattered to patients; measuring twice can differ by as much" in words
    assert "improved" not in words
    assert "chance" not in words


def test_a_verdict_reads_as_its_words():
    assert str(row("phq9", baseline=12, exit=6).changes["exit"].verdict) == "better, meaningful"


def test_the_headline_without_a_comparison():
    assert "Nothing can be compared" in told([line(row("phq9", baseline=9))])
    other = row("six_minute_walk", {"exit": {"course_m": 20}}, baseline=400, exit=460)
    assert "Six-minute walk cannot be compared with the baseline." in told([line(other)])
    assert "improved" not in told([line(other)])


def test_what_lacks_is_named_with_its_reason():
    lines = [line(row("phq9", baseline=9)), line(row("gait_speed", baseline=0.9, exit=1.0))]
    assert lacking(lines, ALL_DONE, "exit", is_open=False) == ["PHQ-9 (not done)"]
    none = [line(row("phq9", baseline=9), {"exit": Held(because="moved away")})]
    held = {"exit": Held(because="moved away")}
    assert lacking(none, held, "exit", is_open=False) == ["the whole exit (moved away)"]
    waiting = [line(row("phq9", baseline=9), {}, "six_weeks", is_open=True)]
    assert lacking(waiting, {}, "six_weeks", is_open=True) == []


# ---- the sessions
DOSE = Dose(FIRST, LATER, 100, 120, 12, 14, 30, 3.0)
NEXT = Dose(LATER, None, None, None, 13, 15, 35, None)


def test_the_dose_of_a_day_is_the_one_in_force_then():
    assert dose_on([DOSE, NEXT], date(2026, 1, 4)) is None
    assert dose_on([DOSE, NEXT], FIRST) is DOSE
    assert dose_on([DOSE, NEXT], LATER) is NEXT
    assert (DOSE.met_minutes, NEXT.met_minutes) == (90, None)  # 3 METs for 30 min


@pytest.mark.parametrize(
    ("bouts", "dose", "kept"),
    [
        ([Done("treadmill", 20, 3.0, 110, 16)], DOSE, True),  # the rate tells, where there is one
        ([Done("treadmill", 20, 3.0, None, 16)], DOSE, False),
        ([Done("treadmill", 20, 3.0, 121, 13)], DOSE, False),
        ([Done("treadmill", 20, 3.0, 110, 13), Done("cycle", 9, None, 90, None)], DOSE, False),
        ([Done("treadmill", 20, 3.0, 110, 13)], NEXT, True),
        ([Done("treadmill", 20, 3.0, None, None)], DOSE, None),
        ([Done("strength", 20, None, 140, 18)], DOSE, None),
        ([Done("treadmill", 20, 3.0, 110, 13)], None, None),
    ],
)
def test_a_session_lies_in_the_range_of_its_day(bouts, dose, kept):
    assert in_range(bouts, dose) is kept


def test_sessions_are_counted_in_words():
    sessions = [
        Session(FIRST, "attended", is_in_range=True),
        Session(FIRST, "attended", is_in_range=False),
        Session(FIRST, "held"),
        Session(FIRST, "missed", "ill"),
        Session(FIRST, "missed"),
    ]
    assert tally(sessions) == [
        *[(2, "attended"), (1, "held"), (2, "missed (1 ill, 1 no reason recorded)")],
    ]
    assert tally([]) == [(0, "attended")]
    assert within(sessions) == "in the prescribed range in 1 of 2 in which it can be told"
    assert within([]) == "not known whether in the prescribed range"


def test_the_dose_of_a_session_is_minutes_times_cost():
    assert done_in([Done("treadmill", 20, 3.0, None, None), Done("cycle", 10, 4.0, 1, 1)]) == 100
    assert done_in([Done("strength", 20, None, None, None)]) is None
