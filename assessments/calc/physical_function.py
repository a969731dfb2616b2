"""Physical functioning of the RAND 36-item survey: items 3 to 12.

RAND Health Care scoring instructions, https://www.rand.org/health. Free to use under that name.
The items are our own short words beside the printed form.
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

ITEMS = (
    "Vigorous activities",
    "Moderate activities",
    "Lift or carry groceries",
    "Several flights of stairs",
    "One flight of stairs",
    "Bend, kneel or stoop",
    "More than a mile",
    "Several blocks",
    "One block",
    "Bathe or dress",
)
FIRST_ITEM = 3
ANSWERS = ((1, "1 limited a lot"), (2, "2 limited a little"), (3, "3 not limited"))
POINTS = {1: 0, 2: 50, 3: 100}
LEAST_ANSWERED = 5  # project rule; the instructions average whatever was answered


def mean_points(answers: list[float]) -> float:
    """Mean of the answered items, each 0, 50 or 100.

    Parameters
    ----------
    answers : at least five of the ten answers, 1 limited a lot to 3 not limited.

    Returns
    -------
    Mean. [points], 0 to 100

    Raises
    ------
    OutOfRange : an answer is not 1, 2 or 3.
    NotScorable : fewer than five were answered.

    References
    ----------
    Module docstring.
    """
    for answer in answers:
        if answer not in POINTS:
            raise OutOfRange("Answer", answer, 1, 3)
    if len(answers) < LEAST_ANSWERED:
        raise NotScorable(f"{len(answers)} items are answered; at least {LEAST_ANSWERED} must be.")
    return sum(POINTS[int(answer)] for answer in answers) / len(answers)


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Mean of the ten items on physical functioning.

    Parameters
    ----------
    inputs : ``item3`` to ``item12``, 1 to 3; up to five may be empty.
    person, on : not used.

    Returns
    -------
    Mean [points], 0 to 100; out of range and with a remark where items are missing.

    Raises
    ------
    OutOfRange : an answer is not 1, 2 or 3.
    NotScorable : fewer than five were answered.

    References
    ----------
    Module docstring.
    """
    keys = [f"item{n}" for n in range(FIRST_ITEM, FIRST_ITEM + len(ITEMS))]
    given = [float(answer) for key in keys if (answer := inputs.get(key)) is not None]
    value = mean_points(given)
    missing = len(ITEMS) - len(given)
    remarks = (f"{missing} items unanswered; the mean is of the others.",) if missing else ()
    derived = (Derived("n_answered", "items answered", len(given), "of 10"),)
    return Result(value, "points", derived, "", "0 to 100, RAND scoring", remarks, not missing)


PHYSICAL_FUNCTION = Measure(
    key="physical_functioning",
    name="RAND-36 physical functioning",
    plain="Your answers about moving about",
    unit="points",
    inputs=tuple(
        Input(f"item{n}", f"{n}. {words}", options=ANSWERS, is_needed=False)
        for n, words in enumerate(ITEMS, start=FIRST_ITEM)
    ),
    score=score,
    direction=Direction.HIGHER,
    version="rand-1",
    citation="RAND Health Care scoring instructions, items 3 to 12",
    meaningful_change=MeaningfulChange(10, "depends on the population; 3 to 10", "from memory"),
)
