"""Six-minute walk: distance against reference equations.

ATS statement, AJRCCM 2002;166:111-117; ERS/ATS standard, Eur Respir J 2014;44:1428-1446. The
equations give very different targets for one person, so a clinic keeps to one.
"""

from dataclasses import dataclass
from datetime import date

from assessments.calc import metabolic
from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    MeaningfulChange,
    Measure,
    Result,
    attempt,
    check_age,
    needed,
    number,
    sensible,
)
from patients.calc.limits import (
    HEART_RATE_BPM,
    HEIGHT_CM,
    SIX_MINUTE_WALK_M,
    SPO2_PERCENT,
    WEIGHT_KG,
    Limit,
    NotScorable,
)
from patients.calc.person import Person

MINUTES = 6
ENRIGHT, TROOSTERS, GIBBONS = 1, 2, 3
EQUATIONS = (
    (ENRIGHT, "Enright 1998, 40 to 80 years, first test"),
    (TROOSTERS, "Troosters 1999, 50 to 85 years"),
    (GIBBONS, "Gibbons 2001, 20 to 80 years (range from memory)"),
)
ENRIGHT_AGES = (40, 80)
TROOSTERS_AGES = (50, 85)
GIBBONS_AGES = (20, 80)  # range from memory
# The ACSM walking equation holds for 50 to 100 m/min, that is 300 to 600 m in six minutes.
COST_RANGE_M = (300, 600)
RESTS = Limit("Rests", "rests", 0, 20, 0, 6)
ENDED_AFTER_S = Limit("Ended early after", "s", 0, 359)
# Indoor tracks are longer than the corridor of the standard, so a long course is asked about.
COURSE_M = Limit("Course length", "m", 10, 400, 15, 50)
# A prediction for healthy people outside this is none (project choice). [m]
SENSIBLE_M = Limit("Predicted distance", "m", 200, 1000)


@dataclass(frozen=True)
class Predicted:
    """Predicted distance and its lower limit of normal. [m]"""

    metres: float
    lower_limit_m: float | None


def enright(sex: str, age: int, height_cm: float, weight_kg: float) -> Predicted:
    """Predicted six-minute walk distance, first test [1]_.

    Parameters
    ----------
    sex : "female" or "male".
    age : age. [years], 40 to 80
    height_cm : height. [cm], 100 to 250
    weight_kg : body mass. [kg], 25 to 350

    Returns
    -------
    Predicted distance and lower limit (women 139, men 153 below it). [m]

    Raises
    ------
    NotScorable : age outside 40 to 80 years, sex not recorded, or no sensible distance.
    OutOfRange : height or weight is impossible.

    References
    ----------
    .. [1] P. L. Enright, D. L. Sherrill, "Reference equations for the six-minute walk in healthy
       adults," Am. J. Respir. Crit. Care Med., vol. 158, pp. 1384-1387, 1998.
    """
    HEIGHT_CM.check(height_cm)
    WEIGHT_KG.check(weight_kg)
    check_age(age, *ENRIGHT_AGES, "Enright 1998")
    if sex == "male":
        predicted = 7.57 * height_cm - 5.02 * age - 1.76 * weight_kg - 309
        below = 153
    elif sex == "female":
        predicted = 2.11 * height_cm - 2.29 * weight_kg - 5.78 * age + 667
        below = 139
    else:
        raise NotScorable("Enright 1998 needs the sex for reference equations.")
    sensible(predicted, SENSIBLE_M, "Enright 1998")
    return Predicted(predicted, predicted - below)


def troosters(sex: str, age: int, height_cm: float, weight_kg: float) -> Predicted:
    """Predicted six-minute walk distance.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 50 to 85
    height_cm : height. [cm], 100 to 250
    weight_kg : body mass. [kg], 25 to 350

    Returns
    -------
    Predicted distance [m]; the paper states no lower limit, so it is None.

    Raises
    ------
    NotScorable : age outside 50 to 85 years, sex not recorded, or no sensible distance.
    OutOfRange : height or weight is impossible.

    References
    ----------
    Troosters 1999, Eur Respir J 14:270-274.
    """
    HEIGHT_CM.check(height_cm)
    WEIGHT_KG.check(weight_kg)
    check_age(age, *TROOSTERS_AGES, "Troosters 1999")
    if sex not in {"female", "male"}:
        raise NotScorable("Troosters 1999 needs the sex for reference equations.")
    metres = 218 + 5.14 * height_cm - 5.32 * age - 1.80 * weight_kg + 51.31 * (sex == "male")
    return Predicted(sensible(metres, SENSIBLE_M, "Troosters 1999"), None)


def gibbons(sex: str, age: int) -> Predicted:
    """Predicted six-minute walk distance.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 20 to 80

    Returns
    -------
    Predicted distance [m]; its lower limit is None.

    Raises
    ------
    NotScorable : age outside 20 to 80 years, or sex not recorded.

    References
    ----------
    Gibbons 2001, J Cardiopulm Rehabil 21:87-93; range from memory.
    """
    check_age(age, *GIBBONS_AGES, "Gibbons 2001")
    if sex not in {"female", "male"}:
        raise NotScorable("Gibbons 2001 needs the sex for reference equations.")
    return Predicted(868.8 - 2.99 * age - 74.7 * (sex == "female"), None)


def predicted_by(
    equation: int, person: Person, on: date, height_cm: float, weight_kg: float
) -> Predicted:
    """Predicted distance by the chosen equation.

    Parameters
    ----------
    equation : TROOSTERS or GIBBONS; any other number is ENRIGHT.
    person : sex and birth date.
    on : day of the test.
    height_cm : height, not used by Gibbons. [cm], 100 to 250
    weight_kg : body mass, not used by Gibbons. [kg], 25 to 350

    Returns
    -------
    Predicted distance, and its lower limit or None. [m]

    Raises
    ------
    NotScorable : as the equation.
    OutOfRange : height or weight is impossible, or the test lies before the birth.

    References
    ----------
    As the equation.
    """
    age = person.age_on(on)
    if equation == TROOSTERS:
        return troosters(person.sex, age, height_cm, weight_kg)
    if equation == GIBBONS:
        return gibbons(person.sex, age)
    return enright(person.sex, age, height_cm, weight_kg)


def walking_speed_m_min(distance_m: float) -> float:
    """Mean speed over the six minutes.

    Parameters
    ----------
    distance_m : distance walked. [m], 0 to 1000

    Returns
    -------
    Mean speed. [m/min]

    Raises
    ------
    OutOfRange : the distance is impossible.

    References
    ----------
    By definition; common practice, no source.
    """
    return SIX_MINUTE_WALK_M.check(distance_m) / MINUTES


def mean_mets(distance_m: float) -> float:
    """Mean oxygen cost of the walk, not a peak.

    Parameters
    ----------
    distance_m : distance walked. [m], 300 to 600 (50 to 100 m/min)

    Returns
    -------
    Mean cost. [METs]

    Raises
    ------
    NotScorable : the mean speed lies outside 50 to 100 m/min.
    OutOfRange : the distance is impossible.

    References
    ----------
    ACSM walking equation.
    """
    speed = walking_speed_m_min(distance_m)
    if not COST_RANGE_M[0] <= distance_m <= COST_RANGE_M[1]:
        raise NotScorable("The walking equation holds for 300 to 600 m in six minutes.")
    return metabolic.walking(speed).mets


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Distance against the chosen equation, with its mean cost.

    Parameters
    ----------
    inputs : ``distance_m`` [m], 0 to 1000. May be empty: ``height_cm`` [cm], 100 to 250,
        ``weight_kg`` [kg], 25 to 350, ``equation`` 1 Enright (also when empty), 2 Troosters,
        3 Gibbons, ``ended_after_s`` [s], 0 to 359, ``is_second_walk`` true or false.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Distance [m]; mean cost [METs], predicted and lower limit [m] and share [%] beside it, or
    remarks.

    Raises
    ------
    NotScorable : the distance is missing.
    OutOfRange : a value is impossible, or the test lies before the birth.
    KeyError : an equation that is not offered.

    References
    ----------
    Module docstring, and as the equation.
    """
    distance = needed(inputs, "distance_m", SIX_MINUTE_WALK_M)
    derived: list[Derived] = []
    remarks: list[str] = []
    words, reference = "", ""
    try:
        derived.append(Derived("mean_mets", "mean cost of walking", mean_mets(distance), "METs", 1))
    except NotScorable as error:
        remarks.append(f"No METs: {error}")
    height, weight = inputs.get("height_cm"), inputs.get("weight_kg")
    if height is None or weight is None:
        remarks.append("No predicted distance: height or weight is missing.")
    else:
        equation = int(inputs.get("equation") or ENRIGHT)
        found = attempt(
            remarks,
            "No predicted distance",
            lambda: predicted_by(equation, person, on, float(height), float(weight)),
        )
        if found is not None:
            limit = found.lower_limit_m
            derived.append(Derived("predicted", "predicted", found.metres, "m"))
            derived.append(
                Derived("percent_predicted", "of predicted", 100 * distance / found.metres, "%")
            )
            reference = dict(EQUATIONS)[equation]
            if limit is None:
                remarks.append("This equation states no lower limit of normal.")
            else:
                derived.append(Derived("lower_limit", "lower limit of normal", limit, "m"))
                below = distance < limit
                words = "below the lower limit of normal" if below else "within the reference range"
    ended = number(inputs, "ended_after_s", ENDED_AFTER_S)
    if ended is not None:
        words = "; ".join(part for part in (f"ended early, after {ended:.0f} s", words) if part)
    if inputs.get("is_second_walk") is not True:
        remarks.append("One walk only; results rise with practice (ERS/ATS 2014).")
    return Result(distance, "m", tuple(derived), words, reference, tuple(remarks))


SIX_MINUTE_WALK = Measure(
    key="six_minute_walk",
    name="Six-minute walk",
    plain="The distance you walk in six minutes",
    unit="m",
    inputs=(
        Input("distance_m", "Distance", SIX_MINUTE_WALK_M),
        Input("course_m", "Course length", COURSE_M, is_needed=False),
        Input("rests", "Rests", RESTS, is_whole=True, is_needed=False),
        Input("ended_after_s", "Ended early after", ENDED_AFTER_S, True, is_needed=False),
        Input("lowest_spo2_percent", "Lowest SpO₂", SPO2_PERCENT, is_whole=True, is_needed=False),
        Input("end_heart_rate_bpm", "Heart rate at end", HEART_RATE_BPM, True, is_needed=False),
        Input("height_cm", "Height, if not above", HEIGHT_CM, is_needed=False),
        Input("weight_kg", "Weight, if not above", WEIGHT_KG, is_needed=False),
        Input("is_second_walk", "Better of two walks", is_yes_no=True, is_needed=False),
        Input("equation", "Reference", options=EQUATIONS, is_needed=False),
    ),
    score=score,
    direction=Direction.HIGHER,
    version="enright98-1",
    citation="ATS 2002, AJRCCM 166:111; Enright & Sherrill 1998, AJRCCM 158:1384",
    meaningful_change=MeaningfulChange(
        25,
        "coronary disease after an acute event, in cardiac rehabilitation (n = 81)",
        "Gremeaux 2011, doi:10.1016/j.apmr.2010.11.023",
    ),
    detectable_change=MeaningfulChange(
        32.4, "heart failure", "Shoemaker, as MDC95 beside a meaningful change of 30.1 m"
    ),
    loinc="64098-7",
    cut_short="ended_after_s",
    variant_inputs=("course_m", "is_second_walk", "equation"),
)
