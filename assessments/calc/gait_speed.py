"""Usual gait speed over a timed course."""

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
    by_sex,
    needed,
)
from patients.calc.limits import GAIT_COURSE_M, GAIT_TIME_S, NotScorable
from patients.calc.person import Person

# Mean usual pace (from age, to age, men, women). [m/s]
USUAL_PACE = (
    (20, 29, 1.36, 1.34),
    (30, 39, 1.43, 1.34),
    (40, 49, 1.43, 1.39),
    (50, 59, 1.43, 1.31),
    (60, 69, 1.34, 1.24),
    (70, 79, 1.26, 1.13),
    (80, 99, 0.97, 0.94),
)
# Low physical performance at or below. EWGSOP2, Cruz-Jentoft 2019, doi:10.1093/ageing/afy169.
LOW_AT_OR_BELOW = 0.8


def speed(course_m: float, times_s: list[float]) -> float:
    """Mean speed of the walks.

    Parameters
    ----------
    course_m : timed distance. [m], 2 to 20
    times_s : one time a walk, at least one. [s], 0.5 to 120 each

    Returns
    -------
    Mean of the speeds, not of the times. [m/s]

    Raises
    ------
    OutOfRange : a value is impossible.
    NotScorable : no time was given.

    References
    ----------
    common practice, no source
    """
    GAIT_COURSE_M.check(course_m)
    if not times_s:
        raise NotScorable("At least one walking time is needed.")
    speeds = [course_m / GAIT_TIME_S.check(seconds) for seconds in times_s]
    return sum(speeds) / len(speeds)


def usual_pace(sex: str, age: int) -> float:
    """Mean usual pace of people of this sex and age.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 20 to 99

    Returns
    -------
    Speed. [m/s]

    Raises
    ------
    NotScorable : age outside 20 to 99 years, or sex not recorded.

    References
    ----------
    Bohannon & Andrews 2011, doi:10.1016/j.physio.2010.12.004; 23 111 people.
    """
    for low, high, men, women in USUAL_PACE:
        if low <= age <= high:
            if sex not in {"female", "male"}:
                raise NotScorable("The reference needs the sex for reference equations.")
            return men if sex == "male" else women
    raise NotScorable(f"Bohannon & Andrews 2011 cover 20 to 99 years, not {age}.")


def walker_of(value: float) -> str:
    """Band of walking: household under 0.4 m/s, limited community to 0.8, community above.

    Parameters
    ----------
    value : usual gait speed. [m/s], not checked

    Returns
    -------
    "household walker", "limited community walker" or "community walker".

    References
    ----------
    common practice, no source
    """
    if value < 0.4:
        return "household walker"
    return "limited community walker" if value <= LOW_AT_OR_BELOW else "community walker"


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Usual gait speed against the cut for low performance and the mean of sex and age.

    Parameters
    ----------
    inputs : ``course_m`` [m], 2 to 20, empty counts as 0 and is refused; ``first_s`` and
        ``second_s`` [s], 0.5 to 120, at least one.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Speed [m/s]; the mean beside it, or a remark where sex or age has none.

    Raises
    ------
    OutOfRange : a value is impossible or the course empty, or the test lies before the birth.
    NotScorable : no time was given.
    KeyError : the key of the course is absent.

    References
    ----------
    As ``usual_pace``; low performance is with its constant.
    """
    times = [float(t) for t in (inputs.get("first_s"), inputs.get("second_s")) if t is not None]
    value = speed(float(inputs["course_m"] or 0), times)
    low = value <= LOW_AT_OR_BELOW
    words = "low (0.8 m/s or less)" if low else "above 0.8 m/s"
    words += f", {walker_of(value)}"
    try:
        usual = usual_pace(person.sex, person.age_on(on))
    except NotScorable as error:
        return Result(value, "m/s", (), words, "EWGSOP2", (str(error),))
    derived = (Derived("mean", "mean of this age and sex", usual, "m/s", 2),)
    return Result(value, "m/s", derived, words, "EWGSOP2; Bohannon & Andrews 2011")


GAIT_SPEED = Measure(
    key="gait_speed",
    name="Usual gait speed",
    plain="Your usual walking speed",
    unit="m/s",
    inputs=(
        Input("course_m", "Timed course", GAIT_COURSE_M),
        Input("first_s", "First time", GAIT_TIME_S),
        Input("second_s", "Second time", GAIT_TIME_S, is_needed=False),
    ),
    score=score,
    direction=Direction.HIGHER,
    version="mean-of-two-1",
    citation="Bohannon & Andrews 2011, doi:10.1016/j.physio.2010.12.004; EWGSOP2 2019",
    digits=2,
    meaningful_change=MeaningfulChange(
        0.05, "older adults, small change", "Perera 2006, J Am Geriatr Soc 54:743"
    ),
    substantial_change=MeaningfulChange(
        0.10, "older adults, substantial change", "Perera 2006, J Am Geriatr Soc 54:743"
    ),
    variant_inputs=("course_m",),
)

# Mean fast pace by age, men and women. [m/s]
FAST_PACE = (
    (20, 29, (2.53, 2.47)),
    (30, 39, (2.46, 2.34)),
    (40, 49, (2.46, 2.12)),
    (50, 59, (2.07, 2.01)),
    (60, 69, (1.93, 1.77)),
    (70, 79, (2.08, 1.75)),
)


def fast_pace(sex: str, age: int) -> float:
    """Mean fast pace of people of this sex and age.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 20 to 79

    Returns
    -------
    Speed. [m/s]

    Raises
    ------
    NotScorable : age outside 20 to 79 years, or sex not recorded.

    References
    ----------
    Bohannon 1997, Age Ageing 26:15-19; 7.62 m. The ends were seen, the rest is from memory.
    """
    return by_sex(sex, *at_age(FAST_PACE, age, "Bohannon 1997"), "Bohannon 1997")


def score_fast(inputs: Inputs, person: Person, on: date) -> Result:
    """Fast gait speed beside the mean of sex and age.

    Parameters
    ----------
    inputs : ``course_m`` [m], 2 to 20; ``first_s`` and ``second_s`` [s], 0.5 to 120, at least one.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Speed [m/s]; the mean beside it, or a remark where sex or age has none.

    Raises
    ------
    NotScorable : the course is missing, or no time was given.
    OutOfRange : a value is impossible, or the test lies before the birth.

    References
    ----------
    As ``fast_pace``.
    """
    times = [float(t) for t in (inputs.get("first_s"), inputs.get("second_s")) if t is not None]
    value = speed(needed(inputs, "course_m", GAIT_COURSE_M), times)
    remarks: list[str] = []
    mean = attempt(remarks, "No norm", lambda: fast_pace(person.sex, person.age_on(on)))
    derived = () if mean is None else (Derived("mean", "mean of this age and sex", mean, "m/s", 2),)
    return Result(value, "m/s", derived, "", "Bohannon 1997, in part from memory", tuple(remarks))


FAST_GAIT = Measure(
    key="fast_gait_speed",
    name="Fast gait speed",
    plain="Your fastest walking speed",
    unit="m/s",
    inputs=GAIT_SPEED.inputs,
    score=score_fast,
    direction=Direction.HIGHER,
    version="mean-of-two-1",
    citation="Bohannon 1997, Age Ageing 26:15",
    digits=2,
    variant_inputs=("course_m",),
)
