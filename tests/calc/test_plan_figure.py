"""Each session's heart rate beside the range: where it is drawn."""

from datetime import date, timedelta

from programs.review.calc.bars import BOTTOM, LEFT, RIGHT, TOP, WIDTH, Session, figure_of

TODAY = date(2026, 11, 27)


def session(n, low=None, high=None, state="finished"):
    return Session(TODAY - timedelta(days=n), state, low, high)


def test_bars_lie_where_their_rates_are_on_one_scale_with_the_range():
    sessions = [session(9, 100, 120), session(5), session(2, 90, 100), session(0, state="absent")]
    figure = figure_of(sessions, (96, 108), (100, 114), TODAY)
    first, second, third, missed = figure.bars
    # 90 to 120 /min over the whole height
    assert (third.bottom, first.top) == (BOTTOM, TOP)
    assert first.bottom == round(BOTTOM - (BOTTOM - TOP) / 3, 1)
    assert figure.signed.y == round(BOTTOM - (BOTTOM - TOP) * 18 / 30, 1)
    assert figure.signed.height == round((BOTTOM - TOP) * 12 / 30, 1)
    assert (figure.draft.low, figure.draft.high) == (100, 114)
    assert second.top is None
    assert second.text_y < 0  # nothing is written for it
    assert (first.over, third.over) == ("120", "")
    assert first.text_y == first.top - 6
    assert [bar.sign for bar in figure.bars] == ["●", "●", "●", "✕"]
    assert [bar.day for bar in figure.bars] == ["18 Nov", "22 Nov", "25 Nov", "27 Nov"]
    xs = [bar.x for bar in figure.bars]
    assert xs == sorted(xs)
    assert xs[0] > LEFT
    assert xs[-1] < WIDTH - RIGHT
    assert missed.bottom is None
    assert figure.signed.high_y <= figure.signed.low_y - 12


def test_a_narrow_range_is_not_drawn_as_a_wide_one():
    figure = figure_of([session(1, 100, 100)], (99, 101), None, TODAY)
    assert figure.signed.height < (BOTTOM - TOP) / 10
    assert figure.draft is None
    assert figure.signed.low_y - figure.signed.high_y >= 12


def test_only_some_days_are_named_and_nothing_is_drawn_of_nothing():
    many = figure_of([session(n, 90, 100) for n in range(30, 0, -1)], None, None, TODAY)
    assert 0 < sum(bool(bar.day) for bar in many.bars) <= 8
    assert many.signed is None
    assert not any(bar.over for bar in many.bars)
    assert figure_of([], (96, 108), None, TODAY) is None
    assert figure_of([session(1)], None, None, TODAY) is None
