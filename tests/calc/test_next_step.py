"""What to do next with a referral, which papers it wants, where it may go."""

from datetime import date, timedelta

import pytest

from programs.enrolment.calc import documents
from programs.enrolment.calc.eligibility import Eligibility, Outcome
from programs.enrolment.calc.next_step import CLINICIAN, Standing, next_step
from programs.enrolment.calc.referral_states import MOVES, WAITING, may_move
from programs.enrolment.calc.start_clock import start_clock


def test_papers_wanted_follow_the_conditions():
    """A state collaborative's documentation guide names the papers; see calc/documents.py."""
    assert documents.wanted(["pci"]) == ["order", "medicines", "discharge", "catheter"]
    assert "operation" in documents.wanted(["cabg", "pci"])
    assert documents.wanted(["other"]) == ["order", "medicines"]


MEETS = Eligibility(Outcome.ELIGIBLE, "A-05", "")
LACKS = Eligibility(Outcome.NEEDS_INFORMATION, "A-01", "", ("event date",))
TODAY = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("standing", "words"),
    [
        (Standing(LACKS), "Request: event date"),
        (Standing(LACKS, outstanding=["discharge summary"]), "Follow up: discharge summary"),
        (Standing(MEETS), "Confirm eligibility"),
        (Standing(MEETS, "not_eligible"), "Close"),
        (Standing(MEETS, "eligible"), "Call to offer"),
        (Standing(MEETS, "eligible", n_tries=2), "Call again (2 tried)"),
        (Standing(MEETS, "eligible", n_tries=1, is_reached=True), "Enrol"),
        (Standing(MEETS, "eligible", is_on_waiting_list=True), "Book when a seat"),
    ],
)
def test_next_step_says_what_to_do(standing, words):
    assert words in next_step(standing, TODAY).words


def test_next_step_waits_for_the_next_try():
    later = Standing(MEETS, "eligible", n_tries=1, next_try_on=TODAY + timedelta(days=2))
    assert next_step(later, TODAY).on == TODAY + timedelta(days=2)
    assert next_step(later, TODAY + timedelta(days=2)).on is None
    assert next_step(Standing(MEETS), TODAY).role == CLINICIAN


def test_nothing_is_left_by_standing_still_and_an_end_is_reopened_only():
    assert not any(may_move(state, state) for state in MOVES)
    assert may_move("new", "enrolled")
    assert not may_move("enrolled", "not_enrolling")
    assert {there for there in MOVES if may_move("not_enrolling", there)} == {"contacted"}
    assert set(MOVES) - WAITING == {"enrolled", "not_enrolling"}


def test_before_discharge_the_clock_has_not_begun():
    coming = TODAY + timedelta(days=3)
    given = {"event_on": None, "referred_on": TODAY}
    assert start_clock(TODAY, discharged_on=coming, **given).is_before_discharge
    assert not start_clock(TODAY, discharged_on=TODAY, **given).is_before_discharge
    assert not start_clock(TODAY, discharged_on=None, **given).is_before_discharge
