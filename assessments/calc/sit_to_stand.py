"""Rising from a chair: five times for time, and as often as possible in 30 seconds."""

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
from patients.calc.limits import CHAIR_STANDS, SIT_TO_STAND_S, NotScorable
from patients.calc.person import Person

# Worse than average above these. [s]
FIVE_TIMES_WORSE_ABOVE = ((60, 69, 11.4), (70, 79, 12.6), (80, 89, 14.8))
# Low strength above this. EWGSOP2, Cruz-Jentoft 2019, doi:10.1093/ageing/afy169. [s]
LOW_STRENGTH_ABOVE_S = 15

# (from age, to age, usual of men from, to, of women from, to): middle half. [stands]
USUAL_STANDS = (
    (60, 64, 14, 19, 12, 17),
    (65, 69, 12, 18, 11, 16),
    (70, 74, 12, 17, 10, 15),
    (75, 79, 11, 17, 10, 15),
    (80, 84, 10, 15, 9, 14),
    (85, 89, 8, 14, 8, 13),
    (90, 94, 7, 12, 4, 11),
)


def worse_than_average_above(age: int) -> float:
    """Five-times time beyond which a person is worse than average for the age.

    Parameters
    ----------
    age : [years], 60 to 89

    Returns
    -------
    Time. [s]

    Raises
    ------
    NotScorable : age outside 60 to 89 years.

    References
    ----------
    Bohannon 2006, Percept Mot Skills 103:215-222.
    """
    for low, high, seconds in FIVE_TIMES_WORSE_ABOVE:
        if low <= age <= high:
            return seconds
    raise NotScorable(f"Bohannon 2006 covers 60 to 89 years, not {age}.")


def usual_stands(sex: str, age: int) -> tuple[int, int]:
    """30-second counts of the middle half of people of this sex and age.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 60 to 94

    Returns
    -------
    The lowest and the highest usual count. [stands]

    Raises
    ------
    NotScorable : age outside 60 to 94 years, or sex not recorded.

    References
    ----------
    Rikli & Jones 1999, J Aging Phys Act 7:162-181; under the lower end is below average in CDC
    STEADI. One later table prints 13 to 18 for men of 65 to 69 and 8 to 13 for men of 85 to 89.
    """
    for low, high, *usual in USUAL_STANDS:
        if low <= age <= high:
            if sex not in {"female", "male"}:
                raise NotScorable("The norms need the sex for reference equations.")
            return (usual[0], usual[1]) if sex == "male" else (usual[2], usual[3])
    raise NotScorable(f"The norms cover 60 to 94 years, not {age}.")


def score_five(inputs: Inputs, person: Person, on: date) -> Result:
    """Time of five stands against the age and the cut for low strength.

    Parameters
    ----------
    inputs : ``seconds`` [s], 1 to 300, or ``is_completed`` false, not both.
    person : birth date.
    on : day of the test.

    Returns
    -------
    Time [s], None when the five were not finished; a remark where the age has no norm.

    Raises
    ------
    NotScorable : no time though not said to be unfinished, or a time of an unfinished test.
    OutOfRange : the time is impossible, or the test lies before the birth.

    References
    ----------
    As ``worse_than_average_above``; low strength is with its constant.
    """
    if inputs.get("is_completed") is False and inputs.get("seconds") is not None:
        raise NotScorable("Give a time, or say that the five stands were not finished; not both.")
    if inputs.get("is_completed") is False:
        return Result(None, "s", interpretation="tried, not able to finish five stands")
    if inputs.get("seconds") is None:
        raise NotScorable("Give the seconds, or say that the five stands were not finished.")
    seconds = SIT_TO_STAND_S.check(float(inputs["seconds"] or 0))
    words, remarks, reference = [], [], ""
    if seconds > LOW_STRENGTH_ABOVE_S:
        words.append("low strength (over 15 s, EWGSOP2)")
    try:
        limit = worse_than_average_above(person.age_on(on))
        words.append("worse than average" if seconds > limit else "average or better")
        reference = f"Bohannon 2006: worse than average above {limit} s"
    except NotScorable as error:
        remarks.append(str(error))
    return Result(seconds, "s", (), "; ".join(words), reference, tuple(remarks))


def score_thirty(inputs: Inputs, person: Person, on: date) -> Result:
    """Stands in half a minute against sex and age; arms used score 0.

    Parameters
    ----------
    inputs : ``stands`` [stands], 0 to 60, may be empty when ``used_arms`` is true.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Stands; a remark where sex or age has no norm.

    Raises
    ------
    NotScorable : no count, and the arms not said to be used.
    OutOfRange : the count is impossible, or the test lies before the birth.

    References
    ----------
    As ``usual_stands``.
    """
    if inputs.get("used_arms") is True:
        return Result(0, "stands", interpretation="arms were used, which scores 0")
    if inputs.get("stands") is None:
        raise NotScorable("Give the number of stands, or say that the arms were used.")
    stands = CHAIR_STANDS.check(float(inputs["stands"] or 0))
    try:
        low, high = usual_stands(person.sex, person.age_on(on))
    except NotScorable as error:
        return Result(stands, "stands", remarks=(str(error),))
    words = "below average" if stands < low else "average or better"
    if stands > high:
        words += ", above the usual range"
    derived = (
        Derived("usual_from", "usual range from", low, "stands"),
        Derived("usual_to", "to", high, "stands"),
    )
    return Result(stands, "stands", derived, words, f"CDC STEADI: below average under {low}")


FIVE_TIMES = Measure(
    key="five_times_sit_to_stand",
    name="Five-times sit-to-stand",
    plain="The time to stand up from a chair five times",
    unit="s",
    inputs=(
        Input("seconds", "Time", SIT_TO_STAND_S, is_needed=False),
        Input("is_completed", "All five finished", is_yes_no=True, is_needed=False),
    ),
    score=score_five,
    direction=Direction.LOWER,
    version="bohannon06-1",
    citation="Bohannon 2006, Percept Mot Skills 103:215; EWGSOP2 2019",
    digits=1,
    meaningful_change=MeaningfulChange(
        1.7, "COPD after rehabilitation", "Jones 2013, doi:10.1136/thoraxjnl-2013-203576"
    ),
)
THIRTY_SECONDS = Measure(
    key="chair_stand_30s",
    name="30-second chair stand",
    plain="How often you stand up from a chair in half a minute",
    unit="stands",
    inputs=(
        Input("stands", "Full stands", CHAIR_STANDS, is_whole=True, is_needed=False),
        Input("used_arms", "Arms were used", is_yes_no=True, is_needed=False),
    ),
    score=score_thirty,
    direction=Direction.HIGHER,
    version="steadi-2",
    citation="Rikli & Jones 1999, J Aging Phys Act 7:162; CDC STEADI",
    meaningful_change=MeaningfulChange(2, "COPD after rehabilitation", "Zanini 2018"),
)
