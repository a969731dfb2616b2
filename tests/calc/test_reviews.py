"""What is due next as of a day, from what assessments told."""

from datetime import date, timedelta

from programs.enrolment.calc.reviews import FIRST_REVIEW, Review, as_stored, moved, review_on

START = date(2026, 3, 2)


def on(days):
    return START + timedelta(days=days)


AHEAD = as_stored(
    [
        Review(on(0), FIRST_REVIEW, on(0)),
        Review(on(35), "Six-week reassessment", on(42)),
        Review(on(60), "", on(60)),
    ]
)


def test_the_last_that_began_is_due():
    assert review_on(AHEAD, on(34)) == Review(on(0), FIRST_REVIEW, on(0))
    assert review_on(AHEAD, on(35)) == Review(on(35), "Six-week reassessment", on(42))
    assert review_on(AHEAD, on(60)) is None
    assert review_on([], on(0)) is None


def test_before_the_first_day_the_first_is_ahead():
    assert review_on(AHEAD, on(-10)) == Review(on(0), FIRST_REVIEW, on(0))


def test_all_moves_with_the_start():
    later = moved(AHEAD, timedelta(days=7))
    assert review_on(later, on(42)) == Review(on(42), "Six-week reassessment", on(49))
