"""HbA1c in both units.

A difference in mmol/mol is not converted with the intercept: per cent points are 0.09148 times it.
"""

from datetime import date

from assessments.calc.measure import Derived, Direction, Input, Inputs, Measure, Result, number
from patients.calc.limits import HBA1C_PERCENT, Limit, NotScorable
from patients.calc.person import Person
from patients.calc.units import glucose_mmoll

SLOPE, INTERCEPT = 0.09148, 2.152  # NGSP % from IFCC mmol/mol
AGREE_WITHIN = 0.15  # per cent points; both typed are rounded
# The whole numbers inside 3 to 20 %, and inside 4 to 14 %, so that both units refuse and ask alike.
IFCC_MMOL_MOL = Limit("HbA1c", "mmol/mol", 10, 195, 21, 129)


def ngsp_percent(ifcc_mmol_mol: float) -> float:
    """HbA1c in NGSP per cent.

    Parameters
    ----------
    ifcc_mmol_mol : HbA1c by IFCC. [mmol/mol], 10 to 195

    Returns
    -------
    HbA1c by NGSP. [%]

    Raises
    ------
    OutOfRange : the value is impossible.

    References
    ----------
    NGSP/IFCC master equation.
    """
    return SLOPE * IFCC_MMOL_MOL.check(ifcc_mmol_mol) + INTERCEPT


def ifcc_mmol_mol(ngsp: float) -> float:
    """HbA1c in IFCC mmol/mol.

    Parameters
    ----------
    ngsp : HbA1c by NGSP. [%], 3 to 20

    Returns
    -------
    HbA1c by IFCC. [mmol/mol]

    Raises
    ------
    OutOfRange : the value is impossible.

    References
    ----------
    As ``ngsp_percent``.
    """
    return (HBA1C_PERCENT.check(ngsp) - INTERCEPT) / SLOPE


def average_glucose_mgdl(ngsp: float) -> float:
    """Estimated average glucose: 28.7 x HbA1c - 46.7.

    Parameters
    ----------
    ngsp : HbA1c by NGSP. [%], 3 to 20

    Returns
    -------
    Average glucose. [mg/dL]

    Raises
    ------
    OutOfRange : the value is impossible.

    References
    ----------
    Nathan 2008, from memory.
    """
    return 28.7 * HBA1C_PERCENT.check(ngsp) - 46.7


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """HbA1c typed in one unit or both.

    Parameters
    ----------
    inputs : ``percent`` [%], 3 to 20, or ``mmol_mol`` [mmol/mol], 10 to 195; both when they agree
        within 0.15 per cent points.
    person, on : not used.

    Returns
    -------
    HbA1c [%]; beside it in mmol/mol, and the average glucose [mg/dL] and [mmol/L].

    Raises
    ------
    NotScorable : neither typed, or the two do not agree.
    OutOfRange : a value is impossible, also once converted to per cent.

    References
    ----------
    As ``ngsp_percent`` and ``average_glucose_mgdl``.
    """
    percent = number(inputs, "percent", HBA1C_PERCENT)
    ifcc = number(inputs, "mmol_mol", IFCC_MMOL_MOL)
    if percent is None and ifcc is None:
        raise NotScorable("HbA1c is needed in per cent or in mmol/mol.")
    if percent is None:
        value = ngsp_percent(ifcc or 0)
    elif ifcc is not None and abs(ngsp_percent(ifcc) - percent) > AGREE_WITHIN:
        raise NotScorable(f"{percent:g} % and {ifcc:g} mmol/mol are not the same HbA1c.")
    else:
        value = percent
    average = average_glucose_mgdl(value)
    derived = (
        Derived(
            "ifcc_mmol_mol", "IFCC", ifcc if ifcc is not None else ifcc_mmol_mol(value), "mmol/mol"
        ),
        Derived("average_glucose_mgdl", "estimated average glucose", average, "mg/dL"),
        Derived("si", "in SI", glucose_mmoll(average), "mmol/L", 1),
    )
    return Result(value, "%", derived, "", "NGSP; average glucose from memory")


HBA1C = Measure(
    key="hba1c",
    name="HbA1c",
    plain="Your average blood sugar (HbA1c)",
    unit="%",
    inputs=(
        Input("percent", "In per cent (NGSP)", HBA1C_PERCENT, is_needed=False),
        Input("mmol_mol", "or in mmol/mol (IFCC)", IFCC_MMOL_MOL, is_needed=False),
    ),
    score=score,
    direction=Direction.LOWER,
    version="ngsp-1",
    citation="NGSP/IFCC master equation",
    digits=1,
    loinc="",  # 4548-4 from memory; not exported until verified
)
