"""Mediterranean diet adherence: fourteen points, each nought or one.

Schröder 2011, J Nutr 141:1140-1145. The items are our own short words. Versions differ (pastry
under 2 or under 3 a week, nuts from 1 or from 3); those two cuts are from memory.
"""

from datetime import date

from assessments.calc.measure import Derived, Direction, Input, Inputs, Measure, Result
from patients.calc.limits import NotScorable
from patients.calc.person import Person

WINE = 8
ITEMS = (
    "Olive oil is the main fat",
    "Olive oil, 4 spoons or more a day",
    "Vegetables, 2 servings or more a day",
    "Fruit, 3 or more a day",
    "Red or processed meat less than once a day",
    "Butter, cream or margarine less than once a day",
    "Sweet drinks less than once a day",
    "Wine, 7 glasses or more a week",
    "Pulses, 3 or more a week",
    "Fish, 3 or more a week",
    "Bought pastry less than 3 times a week",
    "Nuts, 3 or more a week",
    "Poultry rather than red meat",
    "Tomato, garlic and onion base, 2 or more a week",
)
BANDS = ((0, "low"), (6, "moderate"), (10, "high"))  # seen in later publications; 9 is in use too


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Points of the fourteen items, with a band when all are answered.

    Parameters
    ----------
    inputs : ``item1`` to ``item14``, true or false; ``item8`` (wine) may be empty.
    person, on : not used.

    Returns
    -------
    Points, 0 to 14; without the wine item 0 to 13, out of range and without a band.

    Raises
    ------
    NotScorable : an item other than wine is unanswered.

    References
    ----------
    Module docstring.
    """
    asked = {n: inputs.get(f"item{n}") for n in range(1, len(ITEMS) + 1)}
    open_items = [n for n, answer in asked.items() if answer is None]
    without_wine = open_items == [WINE]
    if open_items and not without_wine:
        raise NotScorable(f"{len(open_items)} items are unanswered; unanswered is not no.")
    points = sum(bool(answer) for answer in asked.values())
    if without_wine:
        derived = (Derived("n_items", "items", 13, "of 14"),)
        remark = "The wine item was left out, as for people who do not drink; no band for 13 items."
        return Result(points, "points", derived, "", "13 items, without wine", (remark,), False)
    band = [word for low, word in BANDS if points >= low][-1]
    return Result(points, "points", (), f"{band} adherence", "Schröder 2011; 0 to 14")


DIET = Measure(
    key="mediterranean_diet",
    name="Mediterranean diet, 14 items",
    plain="How closely you eat the Mediterranean way",
    unit="points",
    inputs=tuple(
        Input(f"item{n}", f"{n}. {words}", is_yes_no=True, is_needed=False)
        for n, words in enumerate(ITEMS, start=1)
    ),
    score=score,
    direction=Direction.HIGHER,
    version="schroder11-1",
    citation="Schröder 2011, J Nutr 141:1140. The wine item is no advice to drink",
)
