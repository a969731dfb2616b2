"""Incremental shuttle walk: distance from level and shuttles, against reference equations.

Singh 1992, Thorax 47:1019-1024; two trials, the better one kept: ERS/ATS 2014, Eur Respir J
44:1447-1478. Start speed, increment and level count were seen in later publications; the count of
shuttles a level, n + 2, is from memory and consistent with speed x 60 s / 10 m.
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
    at_age,
    attempt,
    by_sex,
    check_age,
    needed,
    number,
    sensible,
)
from assessments.calc.vitals import body_mass_index
from patients.calc.limits import (
    HEART_RATE_BPM,
    HEIGHT_CM,
    SHUTTLE_LEVEL,
    SHUTTLES,
    SPO2_PERCENT,
    WEIGHT_KG,
    Limit,
    NotScorable,
)
from patients.calc.person import Person

LEVELS = 12
COURSE_M = 10
PROBST, ITAKI, DOURADO, JUERGENSEN = 1, 2, 3, 4
EQUATIONS = (
    (PROBST, "Probst 2012"),
    (ITAKI, "Itaki 2018, Japan"),
    (DOURADO, "Dourado 2011 (from memory)"),
    (JUERGENSEN, "Jürgensen 2011 (from memory)"),
)
# A prediction for healthy people outside this is none (project choice). [m]
SENSIBLE_M = Limit("Predicted distance", "m", 150, 1500)
# UK means and "lower limits" that lie close to the mean, no fifth percentile of persons.
# Harrison 2013, J Cardiopulm Rehabil Prev 33:309-313. [m]
HARRISON = ((40, 49, (824, 765)), (50, 59, (788, 730)), (60, 69, (699, 649)), (70, 110, (633, 562)))


def shuttles_in(level: int) -> int:
    """How many shuttles of 10 m a level has: n + 2.

    Parameters
    ----------
    level : level of the test, 1 to 12.

    Returns
    -------
    Shuttles, 3 to 14.

    Raises
    ------
    OutOfRange : level outside 1 to 12.

    References
    ----------
    Module docstring.
    """
    SHUTTLE_LEVEL.check(level)
    return level + 2


def distance_m(level: int, shuttles: int) -> int:
    """Distance walked: all lower levels, and the shuttles completed in this one.

    Parameters
    ----------
    level : level reached, 1 to 12.
    shuttles : completed in it, 0 to level + 2.

    Returns
    -------
    Distance. [m], 0 to 1020

    Raises
    ------
    OutOfRange : level outside 1 to 12.
    NotScorable : fewer than none, or more shuttles than the level has.

    References
    ----------
    Module docstring.
    """
    most = shuttles_in(level)
    if not 0 <= shuttles <= most:
        raise NotScorable(f"Level {level} has {most} shuttles, not {shuttles}.")
    return COURSE_M * (sum(shuttles_in(n) for n in range(1, level)) + shuttles)


def probst(sex: str, age: int, bmi: float) -> float:
    """Predicted distance [1]_.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 18 to 83
    bmi : body mass index. [kg/m²], not checked

    Returns
    -------
    Distance. [m]

    Raises
    ------
    NotScorable : age outside 18 to 83 years, or sex not recorded.

    References
    ----------
    .. [1] V. S. Probst et al., Respir. Med., vol. 106, pp. 243-248, 2012.
    """
    check_age(age, 18, 83, "Probst 2012")
    men = by_sex(sex, 241.897, 0.0, "Probst 2012")
    return 1449.701 - 11.735 * age + men - 5.686 * bmi


def itaki(sex: str, age: int, height_cm: float) -> float:
    """Predicted distance, derived in Japan.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], not checked
    height_cm : height. [cm], not checked

    Returns
    -------
    Distance. [m]

    Raises
    ------
    NotScorable : the sex is not recorded.

    References
    ----------
    Itaki 2018, Respir Investig 56:497-502.
    """
    men = by_sex(sex, 131.115, 0.0, "Itaki 2018")
    return -4.894 - 4.107 * age + men + 4.895 * height_cm


def dourado(sex: str, age: int, height_cm: float, weight_kg: float) -> float:
    """Predicted distance; the paper takes the height in metres.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 40 to 110
    height_cm : height. [cm], not checked
    weight_kg : body mass. [kg], not checked

    Returns
    -------
    Distance. [m]

    Raises
    ------
    NotScorable : age outside 40 to 110 years, or sex not recorded.

    References
    ----------
    Dourado 2011, J Bras Pneumol 37:607-614, from memory.
    """
    check_age(age, 40, 110, "Dourado 2011")
    men = by_sex(sex, 137.2, 0.0, "Dourado 2011")
    return 347.7 - 7.2 * age - 3.0 * weight_kg + 472.3 * height_cm / 100 + men


def juergensen(sex: str, age: int, height_cm: float, weight_kg: float) -> float:
    """Predicted distance; height in centimetres here, in metres with Dourado.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], not checked
    height_cm : height. [cm], not checked
    weight_kg : body mass. [kg], not checked

    Returns
    -------
    Distance. [m]

    Raises
    ------
    NotScorable : the sex is not recorded.

    References
    ----------
    Jürgensen 2011, Respiration 81:223-228, from memory.
    """
    men = by_sex(sex, 115.937, 0.0, "Jürgensen 2011")
    return 374.004 - 6.782 * age - 2.328 * weight_kg + 3.865 * height_cm + men


def estimated_vo2(metres: float) -> float:
    """Peak oxygen uptake from the distance, derived in COPD.

    Parameters
    ----------
    metres : distance. [m], 0 to 1020, not checked

    Returns
    -------
    Estimated peak uptake. [mL/kg/min]

    References
    ----------
    Singh 1994, Eur Respir J 7:2016-2020.
    """
    return 4.19 + 0.025 * metres


def predicted(equation: int, person: Person, on: date, height_cm: float, weight_kg: float) -> float:
    """Predicted distance by the chosen equation.

    Parameters
    ----------
    equation : PROBST, ITAKI, DOURADO or JUERGENSEN.
    person : sex and birth date.
    on : day of the test.
    height_cm : height. [cm], 100 to 250, checked with Probst only
    weight_kg : body mass. [kg], 25 to 350, checked with Probst only

    Returns
    -------
    Distance. [m]

    Raises
    ------
    NotScorable : as the equation, or no sensible distance for this build.
    OutOfRange : height or weight is impossible, or the test lies before the birth.
    KeyError : an equation that is not offered.

    References
    ----------
    As the equation.
    """
    sex, age = person.sex, person.age_on(on)
    if equation == PROBST:
        found = probst(sex, age, body_mass_index(weight_kg, height_cm))
    elif equation == ITAKI:
        found = itaki(sex, age, height_cm)
    elif equation == DOURADO:
        found = dourado(sex, age, height_cm, weight_kg)
    else:
        found = juergensen(sex, age, height_cm, weight_kg)
    return sensible(found, SENSIBLE_M, dict(EQUATIONS)[equation])


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Distance from level and shuttles, against the chosen equation and the UK mean.

    Parameters
    ----------
    inputs : ``level``, 1 to 12; ``shuttles``, 0 to level + 2. May be empty: ``height_cm`` [cm], 100
        to 250, ``weight_kg`` [kg], 25 to 350, ``equation`` 1 Probst (also when empty), 2 Itaki,
        3 Dourado, 4 Jürgensen, ``is_second_walk`` true or false.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Distance [m]; estimated uptake [mL/kg/min], predicted and UK mean [m] and share [%] beside it,
    or remarks.

    Raises
    ------
    NotScorable : level or shuttles are missing, or more shuttles than the level has.
    OutOfRange : a value is impossible, or the test lies before the birth.
    KeyError : an equation that is not offered.

    References
    ----------
    Module docstring, as the equation, and with ``HARRISON``.
    """
    level = int(needed(inputs, "level", SHUTTLE_LEVEL))
    shuttles = int(needed(inputs, "shuttles", SHUTTLES))
    metres = distance_m(level, shuttles)
    derived = [
        Derived(
            "vo2_estimate", "peak oxygen uptake, estimate", estimated_vo2(metres), "mL/kg/min", 1
        )
    ]
    remarks = ["The estimate of oxygen uptake was derived in COPD (Singh 1994)."]
    height, weight = number(inputs, "height_cm", HEIGHT_CM), number(inputs, "weight_kg", WEIGHT_KG)
    equation = int(inputs.get("equation") or PROBST)
    name = dict(EQUATIONS)[equation]
    if height is None or weight is None:
        remarks.append("No predicted distance: height or weight is missing.")
    else:
        found = attempt(
            remarks,
            "No predicted distance",
            lambda: predicted(equation, person, on, height, weight),
        )
        if found is not None:
            derived += [
                Derived("predicted", "predicted", found, "m"),
                Derived("percent_predicted", "of predicted", 100 * metres / found, "%"),
            ]
    usual = attempt(
        remarks, "No UK mean", lambda: at_age(HARRISON, person.age_on(on), "Harrison 2013")
    )
    if usual is not None:
        derived.append(Derived("mean", "UK mean of this age", usual[0], "m"))
    if inputs.get("is_second_walk") is not True:
        remarks.append("One walk only; results rise with practice (ERS/ATS 2014).")
    words = f"level {level}, {shuttles} of {shuttles_in(level)} shuttles"
    return Result(metres, "m", tuple(derived), words, name, tuple(remarks))


SHUTTLE_WALK = Measure(
    key="incremental_shuttle_walk",
    name="Incremental shuttle walk",
    plain="The distance you walk at a pace that gets faster",
    unit="m",
    inputs=(
        Input("level", "Level reached", SHUTTLE_LEVEL, is_whole=True),
        Input("shuttles", "Shuttles completed in it", SHUTTLES, is_whole=True),
        Input("end_heart_rate_bpm", "Heart rate at end", HEART_RATE_BPM, True, is_needed=False),
        Input("lowest_spo2_percent", "Lowest SpO₂", SPO2_PERCENT, is_whole=True, is_needed=False),
        Input("height_cm", "Height, if not above", HEIGHT_CM, is_needed=False),
        Input("weight_kg", "Weight, if not above", WEIGHT_KG, is_needed=False),
        Input("is_second_walk", "Better of two walks", is_yes_no=True, is_needed=False),
        Input("equation", "Reference", options=EQUATIONS, is_needed=False),
    ),
    score=score,
    direction=Direction.HIGHER,
    version="twelve-levels-1",
    citation="Singh 1992, Thorax 47:1019; twelve levels, 10 m course",
    meaningful_change=MeaningfulChange(
        70, "cardiac rehabilitation", "Houchen-Wolloff 2015, doi:10.1177/2047487314540840"
    ),
    detectable_change=MeaningfulChange(
        47, "cardiac rehabilitation", "Heart Lung Circ 2018, doi:10.1016/j.hlc.2018.11.014"
    ),
    variant_inputs=("is_second_walk", "equation"),
)
