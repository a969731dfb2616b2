"""Predicted peak oxygen uptake by reference equations; a site keeps to one.

FRIEND 2018 takes pounds, inches, 2 for women and 2 for the cycle.
"""

from datetime import date

from assessments.calc.measure import by_sex, check_age, sensible
from patients.calc.limits import Limit, NotScorable
from patients.calc.person import Person
from patients.calc.units import inches_from_cm, lb_from_kg

TREADMILL, CYCLE = 1, 2
MODES = ((TREADMILL, "treadmill"), (CYCLE, "cycle"))
FRIEND_2018, FRIEND_2017, WASSERMAN = 1, 2, 3
EQUATIONS = (
    (FRIEND_2018, "FRIEND 2018"),
    (FRIEND_2017, "FRIEND 2017, treadmill"),
    (WASSERMAN, "Wasserman/Hansen"),
)
# A prediction for healthy people outside this is none (project choice). [mL/kg/min]
SENSIBLE = Limit("Predicted uptake", "mL/kg/min", 8, 90)
TREADMILL_FACTOR = 1.11  # Wasserman/Hansen on a treadmill


def friend_2018(sex: str, age: int, height_cm: float, weight_kg: float, mode: int) -> float:
    """Predicted peak oxygen uptake [1]_.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 20 to 85
    height_cm : turned into inches, as the paper has it. [cm], not checked
    weight_kg : turned into pounds, as the paper has it. [kg], not checked
    mode : TREADMILL or CYCLE.

    Returns
    -------
    Peak uptake. [mL/kg/min]; SEE 6.6

    Raises
    ------
    NotScorable : age outside the range, or sex not recorded.

    References
    ----------
    .. [1] C. G. de Souza e Silva et al., Eur. J. Prev. Cardiol., vol. 25, pp. 742-750, 2018.
    """
    check_age(age, 20, 85, "FRIEND 2018")
    coded = by_sex(sex, 1, 2, "FRIEND 2018")
    pounds, inches = lb_from_kg(weight_kg), inches_from_cm(height_cm)
    return 45.2 - 0.35 * age - 10.9 * coded - 0.15 * pounds + 0.68 * inches - 0.46 * mode


def friend_2017(sex: str, age: int, weight_kg: float) -> float:
    """Predicted peak oxygen uptake on a treadmill.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 20 to 79
    weight_kg : body mass, turned into pounds. [kg], not checked

    Returns
    -------
    Peak uptake. [mL/kg/min]

    Raises
    ------
    NotScorable : age outside 20 to 79 years, or sex not recorded.

    References
    ----------
    Myers 2017.
    """
    check_age(age, 20, 79, "FRIEND 2017")
    women = by_sex(sex, 0.0, 13.7, "FRIEND 2017")
    return 79.9 - 0.39 * age - women - 0.127 * lb_from_kg(weight_kg)


def wasserman(sex: str, age: int, height_cm: float, weight_kg: float, mode: int) -> float:
    """Predicted peak oxygen uptake after Wasserman/Hansen.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], not checked
    height_cm : height. [cm], not checked
    weight_kg : body mass. [kg], not checked
    mode : TREADMILL gives 1.11 times the cycle; any other number is the cycle.

    Returns
    -------
    Peak uptake. [mL/min], not per kilogram

    Raises
    ------
    NotScorable : the sex is not recorded.

    References
    ----------
    As printed by Peterman 2020, doi:10.1161/JAHA.119.015117. Where that table prints the measured
    weight in the line of heavy men, the predicted weight of the original is used.
    """
    usual = by_sex(sex, 0.79 * height_cm - 60.7, 0.65 * height_cm - 42.8, "Wasserman/Hansen")
    per_kg = by_sex(sex, 50.72 - 0.372 * age, 22.78 - 0.17 * age, "Wasserman/Hansen")
    added = by_sex(sex, 0.0, 43.0, "Wasserman/Hansen")
    if weight_kg > usual:
        on_cycle = (usual + added) * per_kg + 6 * (weight_kg - usual)
    else:  # for weight equal to usual both lines agree
        on_cycle = ((usual + weight_kg) / 2 + added) * per_kg
    return on_cycle * (TREADMILL_FACTOR if mode == TREADMILL else 1)


def predicted_vo2(
    equation: int, person: Person, on: date, height_cm: float, weight_kg: float, mode: int
) -> float:
    """Predicted peak oxygen uptake by the chosen equation.

    Parameters
    ----------
    equation : FRIEND_2018, FRIEND_2017 or WASSERMAN.
    person : sex and birth date.
    on : day of the test.
    height_cm : height. [cm], not checked
    weight_kg : body mass. [kg], above 0, not checked
    mode : TREADMILL or CYCLE.

    Returns
    -------
    Peak uptake. [mL/kg/min], 8 to 90

    Raises
    ------
    NotScorable : as the equation, FRIEND 2017 for a cycle, or no sensible value for this build.
    OutOfRange : the test lies before the birth.
    KeyError : an equation that is not offered.

    References
    ----------
    As the equation.
    """
    found = _predicted(equation, person.sex, person.age_on(on), height_cm, weight_kg, mode)
    return sensible(found, SENSIBLE, dict(EQUATIONS)[equation])


def _predicted(
    equation: int, sex: str, age: int, height_cm: float, weight_kg: float, mode: int
) -> float:
    if equation == FRIEND_2017:
        if mode != TREADMILL:
            raise NotScorable("FRIEND 2017 is for a treadmill.")
        return friend_2017(sex, age, weight_kg)
    if equation == WASSERMAN:
        return wasserman(sex, age, height_cm, weight_kg, mode) / weight_kg
    return friend_2018(sex, age, height_cm, weight_kg, mode)
