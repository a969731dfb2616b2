"""Duke Activity Status Index: twelve things somebody can or cannot do, weighted.

Hlatky 1989, Am J Cardiol 64:651-654. The items are our own short words beside the printed form.
"""

from datetime import date

from assessments.calc.measure import Derived, Direction, Input, Inputs, Measure, Result
from assessments.calc.metabolic import RESTING_VO2
from patients.calc.limits import NotScorable
from patients.calc.person import Person

ITEMS = (
    ("Look after oneself", 2.75),
    ("Walk indoors", 1.75),
    ("Walk a block or two on the level", 2.75),
    ("Climb stairs or a hill", 5.50),
    ("Run a short way", 8.00),
    ("Light work at home", 2.70),
    ("Moderate work at home", 3.50),
    ("Heavy work at home", 8.00),
    ("Work in the garden", 4.50),
    ("Sexual relations", 5.25),
    ("Moderate recreation", 6.00),
    ("Strenuous sport", 7.50),
)
LOWER_RISK_FROM = 34  # peri-operative, seen in later publications


def total(answers: list[bool | None]) -> float:
    """Sum of the weights of what can be done.

    Parameters
    ----------
    answers : twelve answers in the order of ``ITEMS``, true when able, None when unanswered.

    Returns
    -------
    Index. [points], 0 to 58.20

    Raises
    ------
    NotScorable : an item is unanswered; unanswered is not no.
    ValueError : there are not twelve answers.

    References
    ----------
    Module docstring.
    """
    missing = sum(answer is None for answer in answers)
    if missing:
        raise NotScorable(f"{missing} items are unanswered; unanswered is not no.")
    return sum(weight for (_, weight), can in zip(ITEMS, answers, strict=True) if can)


def estimated_vo2(index: float) -> float:
    """Peak oxygen uptake from the index: 0.43 x index + 9.6, so never below 9.6.

    Parameters
    ----------
    index : activity status index. [points], 0 to 58.20, not checked

    Returns
    -------
    Estimated peak uptake. [mL/kg/min]

    References
    ----------
    Module docstring.
    """
    return 0.43 * index + 9.6


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Activity status index and the capacity estimated from it.

    Parameters
    ----------
    inputs : ``item1`` to ``item12``, true or false.
    person, on : not used.

    Returns
    -------
    Index [points], 0 to 58.20; beside it the estimate [mL/kg/min] and [METs].

    Raises
    ------
    NotScorable : an item is unanswered.

    References
    ----------
    Module docstring.
    """
    answers = [inputs.get(f"item{n}") for n in range(1, len(ITEMS) + 1)]
    value = total([None if answer is None else bool(answer) for answer in answers])
    vo2 = estimated_vo2(value)
    derived = (
        Derived("vo2_estimate", "peak oxygen uptake, estimate", vo2, "mL/kg/min", 1),
        Derived("mets", "METs", vo2 / RESTING_VO2, "METs", 1),
    )
    words = f"{'at least' if value >= LOWER_RISK_FROM else 'under'} {LOWER_RISK_FROM}"
    return Result(value, "points", derived, words, "Hlatky 1989; 0 to 58.2")


ACTIVITY_STATUS = Measure(
    key="activity_status",
    name="Duke Activity Status Index",
    plain="Your answers about what you can do in daily life",
    unit="points",
    inputs=tuple(
        Input(f"item{n}", f"{n}. {words}", is_yes_no=True, is_needed=False)
        for n, (words, _) in enumerate(ITEMS, start=1)
    ),
    score=score,
    direction=Direction.HIGHER,
    version="hlatky89-1",
    citation="Hlatky 1989, Am J Cardiol 64:651",
    digits=2,
)
