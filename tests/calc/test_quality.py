"""Measures and steps at their edges; whole figures are held to a cohort counted on paper."""

import pytest

from programs.enrolment.calc.way import Step, Way, step_of
from reports.calc.quality import BY_KEY, MEASURES, band_of

ROW = {
    "condition": "mi", "age": 18, "reason": "", "days_to_2": None, "days_to_12": None,
    "days_to_24": None, "days_to_36": None, "sessions": 0, "step": 0, "is_over": False,
    "event_days": None, "has_exit": False,
}  # fmt: skip


@pytest.mark.parametrize(
    ("key", "changes", "days", "counted", "met"),
    [
        ("initiation", {"days_to_2": 30}, 180, True, True),
        ("initiation", {"days_to_2": 31}, 180, True, False),
        ("initiation", {"days_to_2": 30}, 179, False, True),  # too young
        ("initiation", {}, None, False, False),  # no day of an event
        ("initiation", {"age": 17}, 180, False, False),
        ("initiation", {"condition": "heart_failure"}, 180, False, False),
        ("initiation", {"condition": "stable_angina"}, 180, False, False),
        ("initiation", {"reason": "died"}, 180, False, False),
        ("achievement", {"days_to_36": 180}, 180, True, True),
        ("achievement", {"days_to_36": 181}, 181, True, False),
        ("qm-1", {"sessions": 1, "event_days": 21}, 0, True, True),
        ("qm-1", {"sessions": 1, "event_days": 22}, 0, True, False),
        ("qm-1", {"sessions": 1}, 0, False, False),
        ("pm-5b", {"step": 1}, 0, True, False),
        ("qm-2", {"sessions": 36}, 0, False, True),  # on the way
        ("exit-assessed", {"sessions": 3, "is_over": True, "has_exit": True}, 0, True, True),
    ],
)
def test_who_is_counted_and_who_meets_it(key, changes, days, counted, met):
    row, measure = ROW | changes, BY_KEY[key]
    assert (measure.counts(row, days), measure.is_met(row)) == (counted, met)


def test_every_measure_is_stated_or_says_why_not():
    for measure in MEASURES:
        assert measure.is_computable == bool(measure.met)
        assert measure.source
        assert measure.population
        assert measure.numerator


@pytest.mark.parametrize(
    ("way", "step"),
    [
        (Way(), Step.REFERRED),
        (Way(is_reached=True), Step.REFERRED),
        (Way(is_eligible=True), Step.ELIGIBLE),
        (Way(is_eligible=True, is_reached=True), Step.REACHED),
        (Way(has_course=True), Step.ENROLLED),
        (Way(has_course=True, sessions=1), Step.FIRST_SESSION),
        (Way(has_course=True, sessions=11, has_exit=True), Step.FIRST_SESSION),
        (Way(has_course=True, sessions=12), Step.TWELVE),
        (Way(has_course=True, sessions=24), Step.TWENTY_FOUR),
        (Way(has_course=True, sessions=36), Step.THIRTY_SIX),
        (Way(has_course=True, sessions=36, has_exit=True), Step.EXIT_ASSESSED),
    ],
)
def test_everybody_stands_at_one_step(way, step):
    assert step_of(way) == step


@pytest.mark.parametrize(
    ("age", "band"),
    [(17, "under-18"), (18, "18-54"), (54, "18-54"), (55, "55-64"), (75, "75-"), (101, "75-")],
)
def test_bands_meet_without_a_gap(age, band):
    assert band_of(age) == band
