"""Kidney function: estimated filtration rate from creatinine, age and sex."""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    Measure,
    Result,
    by_sex,
    check_age,
    number,
)
from patients.calc.limits import CREATININE_MGDL, Limit, NotScorable
from patients.calc.person import Person
from patients.calc.units import CREATININE_UMOLL_PER_MGDL

UNIT = "mL/min/1.73 m²"
CREATININE_UMOLL = Limit("Creatinine", "µmol/L", 18, 1768, 35, 442)


def filtration_rate(sex: str, age: int, creatinine_mgdl: float) -> float:
    """Estimated GFR by CKD-EPI 2021 [1]_. [mL/min/1.73 m²]

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 18 to 110
    creatinine_mgdl : creatinine. [mg/dL], 0.2 to 20

    Returns
    -------
    Filtration rate. [mL/min/1.73 m²]

    Raises
    ------
    NotScorable : age outside 18 to 110 years, or sex not recorded.
    OutOfRange : creatinine is impossible.

    References
    ----------
    .. [1] L. A. Inker et al., N. Engl. J. Med., vol. 385, pp. 1737-1749, 2021. The constants of
       2009 (141/144, -1.209, 0.993) are others.
    """
    check_age(age, 18, 110, "CKD-EPI 2021")
    kappa, alpha, factor = by_sex(sex, (0.9, -0.302, 1.0), (0.7, -0.241, 1.012), "CKD-EPI 2021")
    ratio = CREATININE_MGDL.check(creatinine_mgdl) / kappa
    below, above = min(ratio, 1) ** alpha, max(ratio, 1) ** -1.200
    return float(142 * below * above * 0.9938**age * factor)


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Filtration rate from a creatinine typed in one of two units.

    Parameters
    ----------
    inputs : ``mgdl`` [mg/dL], 0.2 to 20, or ``umoll`` [µmol/L], 18 to 1768, not both.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Filtration rate [mL/min/1.73 m²]; creatinine in both units beside it.

    Raises
    ------
    NotScorable : none or both typed, or as ``filtration_rate``.
    OutOfRange : creatinine is impossible, or the test lies before the birth.

    References
    ----------
    As ``filtration_rate``.
    """
    mgdl = number(inputs, "mgdl", CREATININE_MGDL)
    umoll = number(inputs, "umoll", CREATININE_UMOLL)
    if (mgdl is None) == (umoll is None):
        raise NotScorable("Creatinine is needed in mg/dL or in µmol/L, in one of them.")
    value = mgdl if mgdl is not None else (umoll or 0) / CREATININE_UMOLL_PER_MGDL
    rate = filtration_rate(person.sex, person.age_on(on), value)
    derived = (
        Derived("creatinine_mgdl", "creatinine", value, "mg/dL", 2),
        Derived("si", "in SI", value * CREATININE_UMOLL_PER_MGDL, "µmol/L"),
    )
    return Result(rate, UNIT, derived, "", "CKD-EPI 2021")


KIDNEY = Measure(
    key="filtration_rate",
    name="Estimated filtration rate",
    plain="How well your kidneys filter",
    unit=UNIT,
    inputs=(
        Input("mgdl", "Creatinine in mg/dL", CREATININE_MGDL, is_needed=False),
        Input("umoll", "or in µmol/L", CREATININE_UMOLL, is_needed=False),
    ),
    score=score,
    direction=Direction.HIGHER,
    version="ckdepi21-1",
    citation="Inker 2021, N Engl J Med 385:1737",
    loinc="98979-8",
)
