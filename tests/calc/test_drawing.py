"""Drawings say with shapes what the words beside them say."""

from datetime import date, timedelta

from reports.calc.attended import Dose, Session
from reports.calc.scale import Axis, axis_of
from reports.drawing import ON_PAGE, ON_PAPER, Weeks, change_svg, scale_svg, told, weeks_svg
from tests.calc.test_outcome_summary import line, row

FIRST = date(2026, 1, 5)
WIDE = Axis(-2, 4)
RIGHT, LEFT = "M0 0L-11 -6L-11 6Z", "M0 0L11 -6L11 6Z"


def drawn(found, axis=WIDE):
    return change_svg(line(found), axis, ON_PAGE)


def test_a_head_is_filled_when_meaningful_and_points_right_when_better():
    assert f'<path class="head" d="{RIGHT}"/>' in drawn(row("phq9", baseline=12, exit=6))
    assert f'<path class="open" d="{RIGHT}"/>' in drawn(row("phq9", baseline=12, exit=10))
    assert f'<path class="head" d="{LEFT}"/>' in drawn(row("gad7", baseline=5, exit=9))


def test_six_weeks_are_a_circle_and_what_does_not_compare_is_none():
    six = drawn(row("phq9", baseline=12, six_weeks=6))
    assert '<circle class="dot"' in six
    assert 'path class="head"' not in six  # no exit: no arrow
    assert '<circle class="open"' in drawn(row("phq9", baseline=12, six_weeks=10))
    other = row("six_minute_walk", {"six_weeks": {"course_m": 20}}, baseline=400, six_weeks=460)
    assert "<circle" not in drawn(other)
    assert told(line(other)) == "Six-minute walk: measurement error 1.3"


def test_a_band_stands_only_where_an_error_is_on_record_and_keeps_to_the_axis():
    assert 'class="err"' not in drawn(row("phq9", baseline=12, exit=6))
    band = drawn(row("six_minute_walk", baseline=400, exit=460), Axis(-1, 1))
    assert '<rect class="err" x="4.00%" width="92.00%"' in band


def test_beyond_the_axis_the_line_is_dashed():
    far = row("peak_oxygen_uptake", baseline=16.0, exit=28.0)
    axis = axis_of([line(far).placed])
    assert 'class="far"' in drawn(far, axis)
    assert 'class="arm"' in drawn(row("phq9", baseline=12, exit=6), axis)


def test_what_is_off_the_scale_is_not_drawn_and_words_are_escaped():
    off = line(row("body_mass_index", baseline=26.0, exit=25.0))
    assert (change_svg(off, WIDE, ON_PAGE), told(off)) == ("", "")
    assert "&lt;b&gt;" in weeks_svg(Weeks(FIRST, 12, [], []), "<b>", ON_PAGE)
    assert "nothing on the scale" in drawn(row("phq9", baseline=12))
    assert "exit 0.0 meaningful changes no change" in drawn(row("phq9", baseline=5, exit=5))


def test_a_scale_is_numbered_with_its_signs():
    words = scale_svg(Axis(-1, 2), ON_PAPER)
    assert [n in words for n in (">−1<", ">0<", ">+1<", ">+2<")] == [True] * 4


def test_each_session_has_its_sign_and_each_dose_its_line():
    days = [FIRST + timedelta(days=7 * n) for n in range(4)]
    states = ["attended", "held", "stopped", "missed"]
    sessions = [
        Session(on, state, met_minutes=60.0 if state == "attended" else None)
        for on, state in zip(days, states, strict=True)
    ]
    dose = {"low_bpm": None, "high_bpm": None, "rpe_low": 12, "rpe_high": 14, "minutes": 30}
    doses = [
        Dose(days[0], days[2], mets=3.0, **dose),
        Dose(days[2], None, mets=None, **dose),  # no target in METs: no line
        Dose(FIRST + timedelta(days=700), None, mets=4.0, **dose),  # after the weeks drawn
    ]
    words = weeks_svg(Weeks(FIRST, 12, sessions, doses), "words", ON_PAGE)
    assert words.count('<rect class="name"') == 1  # one bar of a dose
    assert words.count('<rect class="head"') == 1  # stopped
    assert words.count('<circle class="head"') == 1  # attended
    assert words.count('<circle class="open"') == 2  # held, missed
    assert words.count('class="one"') == 1
    assert Weeks(FIRST, 12, sessions, []).most == 60
