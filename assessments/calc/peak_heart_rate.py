"""Predicted peak heart rate: who each equation is for, and how far it may miss.

With a standard error of 18 beats the authors of the beta-blocker equations warn against
prescribing from a prediction: use the measured peak on current medicine when there is one.
"""

from assessments.calc.measure import check_age
from patients.calc.limits import HEART_RATE_BPM, NotScorable


def fox(age: int) -> float:
    """220 - age, general population, SD 10 to 12. Fox 1971, seen in later publications. [/min]"""
    return 220 - age


def tanaka(age: int) -> float:
    """208 - 0.7 age, healthy people. Tanaka 2001, J Am Coll Cardiol 37:153-156. [/min]"""
    return 208 - 0.7 * age


def gellish(age: int) -> float:
    """207 - 0.7 age, healthy people. Gellish 2007, doi:10.1097/mss.0b013e31803349c6. [/min]

    The abstract's form; the text prints 206.9 - 0.67 age.
    """
    return 207 - 0.7 * age


def gulati(sex: str, age: int) -> float:
    """206 - 0.88 age, women without symptoms. Gulati 2010. [/min]

    doi:10.1161/CIRCULATIONAHA.110.939249

    Raises
    ------
    NotScorable : not a woman.
    """
    if sex != "female":
        raise NotScorable("Gulati 2010 was derived in women.")
    return 206 - 0.88 * age


def brawner(age: int) -> float:
    """164 - 0.7 age: coronary disease on a beta-blocker, treadmill, SEE 18. [/min]

    Brawner 2004, doi:10.1016/j.ahj.2004.04.035; 40 to 80 years, else NotScorable.
    """
    check_age(age, 40, 80, "Brawner 2004")
    return 164 - 0.7 * age


def keteyian(age: int, resting_bpm: float, *, on_cycle: bool) -> float:
    """119 + half the resting rate - half the age, 5 less on a cycle. [/min]

    Heart failure with reduced ejection fraction on a beta-blocker, SEE 18. Keteyian 2012,
    doi:10.1249/MSS.0b013e318234316f.
    """
    return 119 + 0.5 * HEART_RATE_BPM.check(resting_bpm) - 0.5 * age - (5 if on_cycle else 0)
