"""Predicted peak heart rate: who each equation is for, and how far it may miss.

With a standard error of 18 beats the authors of the beta-blocker equations warn against
prescribing from a prediction: use the measured peak on current medicine when there is one.
"""

from assessments.calc.measure import check_age
from patients.calc.limits import NotScorable

BRAWNER_AGES = (40, 80)


def fox(age: int) -> float:
    """Peak heart rate in the general population, 220 - age; SD 10 to 12.

    Parameters
    ----------
    age : [years], not checked

    Returns
    -------
    Predicted peak. [/min]

    References
    ----------
    Fox 1971, seen in later publications.
    """
    return 220 - age


def tanaka(age: int) -> float:
    """Peak heart rate of healthy people, 208 - 0.7 age.

    Parameters
    ----------
    age : [years], not checked

    Returns
    -------
    Predicted peak. [/min]

    References
    ----------
    Tanaka 2001, J Am Coll Cardiol 37:153-156.
    """
    return 208 - 0.7 * age


def gulati(sex: str, age: int) -> float:
    """Peak heart rate of women without symptoms, 206 - 0.88 age.

    Parameters
    ----------
    sex : "female".
    age : [years], not checked

    Returns
    -------
    Predicted peak. [/min]

    Raises
    ------
    NotScorable : not a woman, or sex not recorded.

    References
    ----------
    Gulati 2010, doi:10.1161/CIRCULATIONAHA.110.939249.
    """
    if sex != "female":
        raise NotScorable("Gulati 2010 was derived in women.")
    return 206 - 0.88 * age


def brawner(age: int) -> float:
    """Peak heart rate with coronary disease on a beta-blocker, treadmill: 164 - 0.7 age.

    Parameters
    ----------
    age : [years], 40 to 80

    Returns
    -------
    Predicted peak. [/min]; SEE 18

    Raises
    ------
    NotScorable : age outside 40 to 80 years.

    References
    ----------
    Brawner 2004, doi:10.1016/j.ahj.2004.04.035.
    """
    check_age(age, *BRAWNER_AGES, "Brawner 2004")
    return 164 - 0.7 * age
