"""PHQ-9: nine items 0 to 3. The topics are our own short words beside the printed form.

The instrument and its answer words are released by its authors for free use.

Kroenke K, Spitzer RL, Williams JBW 2001, J Gen Intern Med 16:606-613.
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
from patients.calc.limits import NotScorable, OutOfRange
from patients.calc.person import Person

ITEMS = 9
SAFETY_ITEM = "item9"
MAY_MISS = 2  # of items 1 to 8; the total is then prorated and marked (from memory)
SEVERITY = (
    (0, "minimal"),
    (5, "mild"),
    (10, "moderate"),
    (15, "moderately severe"),
    (20, "severe"),
)
POSITIVE_SCREEN = 10
TOPICS = (
    "Interest or pleasure",
    "Low mood, hopeless",
    "Sleep",
    "Tiredness, energy",
    "Appetite",
    "Feeling bad about oneself",
    "Concentration",
    "Slowed down or restless",
    "Thoughts of being dead or of self-harm",
)
ANSWERS = (
    (0, "0 not at all"),
    (1, "1 several days"),
    (2, "2 more than half the days"),
    (3, "3 nearly every day"),
)


def severity(total: float) -> str:
    """Severity word of a total.

    Parameters
    ----------
    total : PHQ-9 total. [points], 0 to 27

    Returns
    -------
    "minimal", "mild", "moderate", "moderately severe" or "severe".

    Raises
    ------
    OutOfRange : the total is impossible.

    References
    ----------
    Module docstring.
    """
    if not 0 <= total <= 27:
        raise OutOfRange("PHQ-9 total", total, 0, 27)
    return [word for low, word in SEVERITY if total >= low][-1]


def needs_response_today(inputs: Inputs) -> bool:
    """True when item 9 is above zero, also on a partial form.

    Parameters
    ----------
    inputs : reads ``item9``, 0 to 3 or empty.

    Returns
    -------
    True or false; false also when item 9 is open, which only ``total`` refuses.

    References
    ----------
    common practice, no source
    """
    answer = inputs.get(SAFETY_ITEM)
    return answer is not None and answer > 0


def alert(inputs: Inputs) -> str:
    """The sentence that must not wait, with the answer given.

    Parameters
    ----------
    inputs : reads ``item9``, 0 to 3 or empty.

    Returns
    -------
    The sentence; empty when item 9 is zero or open.

    References
    ----------
    As ``needs_response_today``.
    """
    if not needs_response_today(inputs):
        return ""
    words = dict(ANSWERS).get(int(inputs[SAFETY_ITEM] or 0), f"{inputs[SAFETY_ITEM]:g}")
    return (
        f"PHQ-9 item 9 was answered above zero ({words}): somebody must speak with this person "
        "today, whatever the total."
    )


def total(inputs: Inputs) -> tuple[float, int]:
    """Total score and how many items are missing.

    Up to two of items 1 to 8 may be missing; the total is then the mean of the answered items
    times nine. Item 9 is never filled in: unanswered is an open safety question, not zero.

    Parameters
    ----------
    inputs : ``item1`` to ``item9``, 0 to 3.

    Returns
    -------
    Total, 0 to 27, and how many items are missing, 0 to 2.

    Raises
    ------
    NotScorable : item 9 or more than two others are unanswered.
    OutOfRange : an answer is not 0, 1, 2 or 3.

    References
    ----------
    Module docstring; how many may miss is with ``MAY_MISS``.
    """
    answers = {f"item{n}": inputs.get(f"item{n}") for n in range(1, ITEMS + 1)}
    given = [float(a) for a in answers.values() if a is not None]
    for answer in given:
        if answer not in {0, 1, 2, 3}:
            raise OutOfRange("PHQ-9 item", answer, 0, 3)
    if answers[SAFETY_ITEM] is None:
        raise NotScorable("Item 9 is unanswered; ask it before scoring.")
    missing = ITEMS - len(given)
    if missing > MAY_MISS:
        raise NotScorable(f"{missing} items are unanswered; at most {MAY_MISS} may be.")
    return sum(given) * ITEMS / len(given), missing


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Total of the nine items with its severity.

    Parameters
    ----------
    inputs : ``item1`` to ``item9``, 0 to 3; up to two of the first eight may be empty.
    person, on : not used.

    Returns
    -------
    Total [points], 0 to 27; out of range and with a remark where items are missing.

    Raises
    ------
    NotScorable : item 9 or more than two others are unanswered.
    OutOfRange : an answer is not 0, 1, 2 or 3.

    References
    ----------
    Module docstring.
    """
    value, missing = total(inputs)
    positive = value >= POSITIVE_SCREEN
    words = severity(value) + (", positive screen" if positive else "")
    remarks = (f"{missing} items unanswered; the total is prorated.",) if missing else ()
    derived = (Derived("n_answered", "items answered", ITEMS - missing, "of 9"),)
    return Result(value, "points", derived, words, "Kroenke 2001", remarks, not missing)


PHQ9 = Measure(
    key="phq9",
    name="PHQ-9",
    plain="Your answers about low mood",
    unit="points",
    inputs=tuple(
        Input(f"item{n}", f"{n}. {topic}", options=ANSWERS, is_needed=False)
        for n, topic in enumerate(TOPICS, start=1)
    ),
    score=score,
    direction=Direction.LOWER,
    version="kroenke01-1",
    citation="Kroenke 2001, J Gen Intern Med 16:606; sum, 0 to 27",
    meaningful_change=MeaningfulChange(5, "primary care", "Löwe/Kroenke, from memory"),
    loinc="44261-6",
    alert=alert,
)
