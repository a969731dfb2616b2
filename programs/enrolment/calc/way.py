"""How far somebody came on the way from referral to exit.

The steps and what each asks for are a project choice; "enrolled" and "completed" of the published
measures are counted from days and sessions, not from these steps.
"""

from dataclasses import dataclass
from enum import IntEnum


class Step(IntEnum):
    """The furthest step reached; whoever reached one reached those before it."""

    REFERRED = 0
    ELIGIBLE = 1
    REACHED = 2
    ENROLLED = 3
    FIRST_SESSION = 4
    TWELVE = 5
    TWENTY_FOUR = 6
    THIRTY_SIX = 7
    EXIT_ASSESSED = 8


STEP_NAMES = {
    Step.REFERRED: "Referred",
    Step.ELIGIBLE: "Eligible",
    Step.REACHED: "Reached",
    Step.ENROLLED: "Enrolled",
    Step.FIRST_SESSION: "First session",
    Step.TWELVE: "12 sessions",
    Step.TWENTY_FOUR: "24 sessions",
    Step.THIRTY_SIX: "36 sessions",
    Step.EXIT_ASSESSED: "Exit assessed",
}
OF_SESSIONS = ((36, Step.THIRTY_SIX), (24, Step.TWENTY_FOUR), (12, Step.TWELVE))


@dataclass(frozen=True)
class Way:
    """What is on record of one referral.

    Attributes
    ----------
    is_eligible : the latest answer of a clinician is that the rule is met.
    is_reached : somebody spoke with the person, or put them on the waiting list.
    has_course : there is a course, begun or booked.
    sessions : counted sessions of it. [sessions], 0 or more
    has_exit : its exit assessment was performed.
    """

    is_eligible: bool = False
    is_reached: bool = False
    has_course: bool = False
    sessions: int = 0
    has_exit: bool = False


def step_of(way: Way) -> Step:
    """The furthest step, each person in exactly one.

    Who has a course counts as eligible and reached, whatever was noted of the way there. Who was
    reached without an answer on eligibility stands at the referral: the answer is what is missing.
    An exit assessment after fewer than 36 sessions is no step, it is counted apart.

    Parameters
    ----------
    way : what is on record.

    Returns
    -------
    The step.
    """
    if not way.has_course:
        if not way.is_eligible:
            return Step.REFERRED
        return Step.REACHED if way.is_reached else Step.ELIGIBLE
    if way.sessions == 0:
        return Step.ENROLLED
    for least, step in OF_SESSIONS:
        if way.sessions >= least:
            is_last = step == Step.THIRTY_SIX and way.has_exit
            return Step.EXIT_ASSESSED if is_last else step
    return Step.FIRST_SESSION
