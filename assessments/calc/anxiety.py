"""GAD-7: seven items 0 to 3, free to use. The topics are our own short words.

Spitzer RL, Kroenke K, Williams JBW, Löwe B 2006, Arch Intern Med 166:1092-1097.
"""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    MeaningfulChange,
    Measure,
    Result,
)
from assessments.calc.mood import ANSWERS
from patients.calc.limits import NotScorable, OutOfRange
from patients.calc.person import Person

TOPICS = (
    "Nervous or on edge",
    "Cannot stop worrying",
    "Worrying too much",
    "Trouble relaxing",
    "Too restless to sit",
    "Easily annoyed",
    "Afraid something awful may happen",
)
ITEMS = len(TOPICS)
MAY_MISS = 2  # the total is then prorated and marked (from memory)
SEVERITY = ((0, "minimal"), (5, "mild"), (10, "moderate"), (15, "severe"))
POSITIVE_SCREEN = 10


def total(answers: list[float | None]) -> tuple[float, int]:
    """Total score; up to two missing items are filled by the mean of the others.

    Parameters
    ----------
    answers : seven answers, 0 to 3 each, None when unanswered.

    Returns
    -------
    Total, 0 to 21, and how many items are missing, 0 to 2.

    Raises
    ------
    OutOfRange : an answer is not 0, 1, 2 or 3.
    NotScorable : more than two are unanswered.

    References
    ----------
    Module docstring; how many may miss is with ``MAY_MISS``.
    """
    given = [answer for answer in answers if answer is not None]
    for answer in given:
        if answer not in {0, 1, 2, 3}:
            raise OutOfRange("GAD-7 item", answer, 0, 3)
    missing = ITEMS - len(given)
    if missing > MAY_MISS:
        raise NotScorable(f"{missing} items are unanswered; at most {MAY_MISS} may be.")
    return sum(given) * ITEMS / len(given), missing


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Total of the seven items with its severity.

    Parameters
    ----------
    inputs : ``item1`` to ``item7``, 0 to 3; up to two may be empty.
    person, on : not used.

    Returns
    -------
    Total [points], 0 to 21; out of range and with a remark where items are missing.

    Raises
    ------
    OutOfRange : an answer is not 0, 1, 2 or 3.
    NotScorable : more than two are unanswered.

    References
    ----------
    Module docstring.
    """
    raw = [inputs.get(f"item{n}") for n in range(1, ITEMS + 1)]
    value, missing = total([None if answer is None else float(answer) for answer in raw])
    words = [word for low, word in SEVERITY if value >= low][-1]
    if value >= POSITIVE_SCREEN:
        words += ", positive screen"
    remarks = (f"{missing} items unanswered; the total is prorated.",) if missing else ()
    derived = (Derived("n_answered", "items answered", ITEMS - missing, "of 7"),)
    return Result(value, "points", derived, words, "Spitzer 2006", remarks, not missing)


GAD7 = Measure(
    key="gad7",
    name="GAD-7",
    plain="Your answers about worry",
    unit="points",
    inputs=tuple(
        Input(f"item{n}", f"{n}. {topic}", options=ANSWERS, is_needed=False)
        for n, topic in enumerate(TOPICS, start=1)
    ),
    score=score,
    direction=Direction.LOWER,
    version="spitzer06-1",
    citation="Spitzer 2006, Arch Intern Med 166:1092; sum, 0 to 21",
    meaningful_change=MeaningfulChange(
        4, "outpatients", "Toussaint 2020, doi:10.1016/j.jad.2020.01.032"
    ),
    loinc="70274-6",
)
