"""Timed up and go: stand up, three metres, turn, back, sit down."""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    MeaningfulChange,
    Measure,
    Result,
    at_age,
    attempt,
    needed,
)
from patients.calc.limits import UP_AND_GO_S
from patients.calc.person import Person

# Mean and upper confidence bound by age. Bohannon 2006, J Geriatr Phys Ther 29:64-68. [s]
USUAL = ((60, 69, (8.1, 9.0)), (70, 79, (9.2, 10.2)), (80, 99, (11.3, 12.7)))
FALL_RISK_FROM_S = 12  # CDC STEADI, from memory; Barry 2014 (PMC3924230) used 13.5
LOW_PERFORMANCE_FROM_S = 20  # EWGSOP2, Cruz-Jentoft 2019, doi:10.1093/ageing/afy169


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Time of stand, walk, turn and sit against age and two cuts.

    Parameters
    ----------
    inputs : ``seconds`` [s], 1 to 300.
    person : birth date.
    on : day of the test.

    Returns
    -------
    Time [s]; the mean beside it at 60 to 99 years, else a remark.

    Raises
    ------
    NotScorable : the time is missing.
    OutOfRange : it is impossible, or the test lies before the birth.

    References
    ----------
    With the constants above.
    """
    seconds = needed(inputs, "seconds", UP_AND_GO_S)
    words: list[str] = []
    remarks: list[str] = []
    derived: list[Derived] = []
    if seconds >= LOW_PERFORMANCE_FROM_S:
        words.append("low performance (20 s or more, EWGSOP2)")
    risk = seconds >= FALL_RISK_FROM_S
    words.append("fall risk (12 s or more, STEADI)" if risk else "under 12 s (STEADI)")
    usual = attempt(remarks, "No norm", lambda: at_age(USUAL, person.age_on(on), "Bohannon 2006"))
    if usual is not None:
        mean, bound = usual
        words.append("worse than average" if seconds > bound else "average or better")
        derived.append(Derived("mean", "mean of this age", mean, "s", 1))
    reference = "Bohannon 2006; STEADI 12 s from memory, others use 13.5 s"
    return Result(seconds, "s", tuple(derived), "; ".join(words), reference, tuple(remarks))


UP_AND_GO = Measure(
    key="timed_up_and_go",
    name="Timed up and go",
    plain="The time to stand up, walk three metres and come back",
    unit="s",
    inputs=(
        Input("seconds", "Time", UP_AND_GO_S),
        Input("used_aid", "With a walking aid", is_yes_no=True, is_needed=False),
    ),
    score=score,
    direction=Direction.LOWER,
    version="bohannon06-1",
    citation="Bohannon 2006, J Geriatr Phys Ther 29:64",
    digits=1,
    meaningful_change=MeaningfulChange(1.4, "COPD; 0.9 to 1.4 s", "Mesquita 2016, from memory"),
    variant_inputs=("used_aid",),
)
