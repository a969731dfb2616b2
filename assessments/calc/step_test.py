"""Two-minute step test: right-knee lifts in two minutes.

Rikli & Jones 1999, J Aging Phys Act 7:162-181 (middle half of community-dwelling adults); criterion
standards to stay independent: Senior Fitness Test Manual, 2nd ed., 2013. Both as quoted by later
publications. Some tables in circulation carry other numbers from 70 years on.
"""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    Measure,
    Result,
    at_age,
    attempt,
    by_sex,
    needed,
)
from patients.calc.limits import STEPS_IN_2_MINUTES
from patients.calc.person import Person

# (from age, to age, ((men low, high, to stay independent), (women the same)))
RANGES = (
    (60, 64, ((87, 115, 106), (75, 107, 97))),
    (65, 69, ((86, 116, 101), (73, 107, 93))),
    (70, 74, ((80, 110, 95), (68, 101, 89))),
    (75, 79, ((73, 109, 88), (68, 100, 84))),
    (80, 84, ((71, 103, 80), (60, 90, 78))),
    (85, 89, ((59, 91, 71), (55, 85, 70))),
    (90, 94, ((52, 86, 60), (44, 72, 60))),
)
SOURCE = "Rikli & Jones"


def range_of(sex: str, age: int) -> tuple[int, int, int]:
    """Lower and upper end of the usual range, and the standard to stay independent.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 60 to 94

    Returns
    -------
    Lower end, upper end and standard. [steps]

    Raises
    ------
    NotScorable : age outside 60 to 94 years, or sex not recorded.

    References
    ----------
    Module docstring.
    """
    men, women = at_age(RANGES, age, SOURCE)
    return by_sex(sex, men, women, SOURCE)


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Right-knee lifts in two minutes against the usual range.

    Parameters
    ----------
    inputs : ``steps`` [steps], 0 to 300; ``held_on`` true adds a remark.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Steps; range and standard beside it, or a remark where sex or age has none.

    Raises
    ------
    NotScorable : the steps are missing.
    OutOfRange : they are impossible, or the test lies before the birth.

    References
    ----------
    Module docstring.
    """
    steps = needed(inputs, "steps", STEPS_IN_2_MINUTES)
    remarks: list[str] = []
    if inputs.get("held_on") is True:
        remarks.append("A hand was on the support; compare only with tests done so.")
    found = attempt(remarks, "No norm", lambda: range_of(person.sex, person.age_on(on)))
    if found is None:
        return Result(steps, "steps", remarks=tuple(remarks))
    low, high, standard = found
    words = "below the usual range" if steps < low else "within the usual range"
    if steps > high:
        words = "above the usual range"
    derived = (
        Derived("usual_from", "usual range from", low, "steps"),
        Derived("usual_to", "to", high, "steps"),
        Derived("independent_from", "standard to stay independent", standard, "steps"),
    )
    return Result(steps, "steps", derived, words, SOURCE, tuple(remarks))


STEP_TEST = Measure(
    key="two_minute_step",
    name="Two-minute step test",
    plain="Your steps on the spot in two minutes",
    unit="steps",
    inputs=(
        Input("steps", "Right-knee lifts", STEPS_IN_2_MINUTES, is_whole=True),
        Input("held_on", "Held on to something", is_yes_no=True, is_needed=False),
    ),
    score=score,
    direction=Direction.HIGHER,
    version="rikli99-1",
    citation="Rikli & Jones 1999, J Aging Phys Act 7:162",
    variant_inputs=("held_on",),
)
