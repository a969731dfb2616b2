"""The next thing to do for a waiting referral, and whose it is (order of steps: project choice)."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from programs.enrolment.calc.eligibility import Eligibility, Outcome

CLINICIAN, INTAKE = "clinician", "anybody on intake"


@dataclass(frozen=True)
class Standing:
    """How far a referral has come. ``decision`` is the clinician's latest answer, "" for none."""

    eligibility: Eligibility
    decision: str = ""
    outstanding: Sequence[str] = ()  # documents asked for and not yet here
    n_tries: int = 0
    is_reached: bool = False  # the latest try reached the person
    next_try_on: date | None = None
    is_on_waiting_list: bool = False


@dataclass(frozen=True)
class NextStep:
    words: str
    role: str
    on: date | None = None  # not before this day


def next_step(standing: Standing, today: date) -> NextStep:
    """What somebody should do now, in a few words, and which role can.

    Parameters
    ----------
    standing : how far the referral has come.
    today : the site's day; a next try on or before it is due now.

    Returns
    -------
    Words, role and the day to wait for; that day is None when the step can be done now.
    """
    said = standing.eligibility
    if standing.decision == Outcome.NOT_ELIGIBLE:
        return NextStep("Close, or send more information", INTAKE)
    if not standing.decision:
        if said.missing and standing.outstanding:
            return NextStep(f"Follow up: {standing.outstanding[0]}", INTAKE)
        if said.missing:
            return NextStep(f"Request: {said.missing[0]}", INTAKE)
        return NextStep("Confirm eligibility", CLINICIAN)
    if standing.is_on_waiting_list:
        return NextStep("Book when a seat is free", CLINICIAN)
    if not standing.n_tries:
        return NextStep("Call to offer a start", INTAKE)
    if not standing.is_reached:
        on = standing.next_try_on
        words = f"Call again ({standing.n_tries} tried)"
        return NextStep(words, INTAKE, on if on and on > today else None)
    return NextStep("Enrol", CLINICIAN)
