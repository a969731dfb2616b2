"""Blood lipids: non-HDL and LDL cholesterol by equation. All equations run in mg/dL.

Values typed in mmol/L are converted first; triglycerides have a factor of their own.
"""

from datetime import date

from assessments.calc.measure import Derived, Direction, Input, Inputs, Measure, Result, attempt
from patients.calc.limits import (
    HDL_MGDL,
    LDL_MGDL,
    TOTAL_CHOLESTEROL_MGDL,
    TRIGLYCERIDES_MGDL,
    Limit,
    NotScorable,
    OutOfRange,
)
from patients.calc.person import Person
from patients.calc.units import CHOLESTEROL_MGDL_PER_MMOLL, TRIGLYCERIDES_MGDL_PER_MMOLL

FRIEDEWALD_BELOW = 400  # mg/dL of triglycerides
SAMPSON_UP_TO = 800
SAMPSON, FRIEDEWALD = 1, 2
EQUATIONS = ((SAMPSON, "Sampson 2020"), (FRIEDEWALD, "Friedewald 1972"))
# As typed: mg/dL or mmol/L, told apart by the answer beside them and checked after conversion.
TYPED_CHOLESTEROL = Limit("Cholesterol", "", 0.1, 800)
TYPED_TRIGLYCERIDES = Limit("Triglycerides", "", 0.1, 5000)


def non_hdl(total: float, hdl: float) -> float:
    """Total less HDL cholesterol.

    Parameters
    ----------
    total : total cholesterol. [mg/dL], 30 to 800
    hdl : HDL cholesterol. [mg/dL], 5 to 200, below the total

    Returns
    -------
    Non-HDL cholesterol. [mg/dL]

    Raises
    ------
    NotScorable : HDL is not below the total.
    OutOfRange : a value is impossible.

    References
    ----------
    By definition; common practice, no source.
    """
    TOTAL_CHOLESTEROL_MGDL.check(total)
    HDL_MGDL.check(hdl)
    if hdl >= total:
        raise NotScorable("HDL must be below the total cholesterol.")
    return total - hdl


def friedewald(total: float, hdl: float, triglycerides: float) -> float:
    """LDL cholesterol [1]_.

    Parameters
    ----------
    total : total cholesterol. [mg/dL], 30 to 800
    hdl : HDL cholesterol. [mg/dL], 5 to 200, below the total
    triglycerides : [mg/dL], 10 to under 400

    Returns
    -------
    LDL cholesterol. [mg/dL], above 0

    Raises
    ------
    NotScorable : 400 mg/dL of triglycerides or more, HDL not below total, or no sensible result.
    OutOfRange : a value is impossible.

    References
    ----------
    .. [1] W. T. Friedewald, R. I. Levy, D. S. Fredrickson, Clin. Chem., vol. 18, pp. 499-502, 1972.
    """
    if TRIGLYCERIDES_MGDL.check(triglycerides) >= FRIEDEWALD_BELOW:
        raise NotScorable("Friedewald holds below 400 mg/dL (4.5 mmol/L) of triglycerides.")
    return _sensible(non_hdl(total, hdl) - triglycerides / 5)


def sampson(total: float, hdl: float, triglycerides: float) -> float:
    """LDL cholesterol [1]_.

    Parameters
    ----------
    total : total cholesterol. [mg/dL], 30 to 800
    hdl : HDL cholesterol. [mg/dL], 5 to 200, below the total
    triglycerides : [mg/dL], 10 to 800

    Returns
    -------
    LDL cholesterol. [mg/dL], above 0

    Raises
    ------
    NotScorable : triglycerides above 800 mg/dL, HDL not below the total, or no sensible result.
    OutOfRange : a value is impossible.

    References
    ----------
    .. [1] M. Sampson et al., JAMA Cardiol., vol. 5, pp. 540-548, 2020.
    """
    if TRIGLYCERIDES_MGDL.check(triglycerides) > SAMPSON_UP_TO:
        raise NotScorable("Sampson 2020 holds up to 800 mg/dL (9.0 mmol/L) of triglycerides.")
    rest = non_hdl(total, hdl)
    bracket = triglycerides / 8.56 + triglycerides * rest / 2140 - triglycerides**2 / 16100
    return _sensible(total / 0.948 - hdl / 0.971 - bracket - 9.44)


def _sensible(ldl: float) -> float:
    if ldl <= 0:
        raise NotScorable("The equation gives no sensible LDL for these values.")
    return ldl


def _typed(inputs: Inputs, key: str, limit: Limit, factor: float) -> float | None:
    value = inputs.get(key)
    if value is None:
        return None
    readings = {"mg/dL": float(value), "mmol/L": float(value) * factor}
    typed, other = list(readings)[:: -1 if inputs.get("is_mmoll") else 1]
    try:
        return limit.check(readings[typed])
    except OutOfRange as error:
        if limit.low <= readings[other] <= limit.high:
            words = f"{limit.name} {float(value):g} {typed} is impossible."
            raise NotScorable(f"{words} Is it in {other}?") from error
        raise


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Non-HDL cholesterol, and LDL as measured or by the chosen equation.

    Parameters
    ----------
    inputs : [mg/dL], or [mmol/L] where ``is_mmoll`` is true; limits hold after conversion:
        ``total`` 30 to 800, ``direct_ldl`` 5 to 800, ``hdl`` 5 to 200, ``triglycerides`` 10 to
        5000.
        ``triglycerides`` and ``direct_ldl`` may be empty.
        ``equation`` 1 Sampson (also when empty), 2 Friedewald.
    person, on : not used.

    Returns
    -------
    Non-HDL cholesterol [mg/dL]; beside it in SI [mmol/L] and LDL, or a remark why there is none.

    Raises
    ------
    NotScorable : total or HDL missing, HDL or measured LDL not below the total, or a value typed in
        the other unit.
    OutOfRange : a value is impossible in both units.
    KeyError : an equation that is not offered.

    References
    ----------
    As ``sampson`` and ``friedewald``.
    """
    total = _typed(inputs, "total", TOTAL_CHOLESTEROL_MGDL, CHOLESTEROL_MGDL_PER_MMOLL)
    hdl = _typed(inputs, "hdl", HDL_MGDL, CHOLESTEROL_MGDL_PER_MMOLL)
    fat = _typed(inputs, "triglycerides", TRIGLYCERIDES_MGDL, TRIGLYCERIDES_MGDL_PER_MMOLL)
    direct = _typed(inputs, "direct_ldl", LDL_MGDL, CHOLESTEROL_MGDL_PER_MMOLL)
    if total is None or hdl is None:
        raise NotScorable("Total and HDL cholesterol are needed.")
    rest = non_hdl(total, hdl)
    if direct is not None and direct >= total:
        raise NotScorable("LDL must be below the total cholesterol.")
    mmoll = Derived("si", "in SI", rest / CHOLESTEROL_MGDL_PER_MMOLL, "mmol/L", 2)
    derived, remarks = [mmoll], []
    reference = "non-HDL cholesterol"
    if direct is not None:
        derived.append(Derived(LDL, "LDL, measured", direct, "mg/dL"))
    elif fat is None:
        remarks.append("No LDL: triglycerides are missing.")
    else:
        equation = int(inputs.get("equation") or SAMPSON)
        compute = friedewald if equation == FRIEDEWALD else sampson
        ldl = attempt(remarks, "No LDL", lambda: compute(total, hdl, fat))
        reference = f"LDL by {dict(EQUATIONS)[equation]}"
        if ldl is not None:
            derived += [
                Derived(LDL, "LDL", ldl, "mg/dL"),
                Derived("ldl_si", "LDL in SI", ldl / CHOLESTEROL_MGDL_PER_MMOLL, "mmol/L", 2),
            ]
    return Result(rest, "mg/dL", tuple(derived), "", reference, tuple(remarks))


def odd(inputs: Inputs) -> tuple[str, ...]:
    """What is asked about: a very low or high measured LDL, or one above non-HDL cholesterol.

    LDL is a part of non-HDL, but two methods of one laboratory may miss each other by a little.

    Parameters
    ----------
    inputs : as ``score``.

    Returns
    -------
    Questions; empty when there are none, or when a value is missing or impossible.

    References
    ----------
    Limits as ``LDL_MGDL``; common practice, no source.
    """
    try:
        total = _typed(inputs, "total", TOTAL_CHOLESTEROL_MGDL, CHOLESTEROL_MGDL_PER_MMOLL)
        hdl = _typed(inputs, "hdl", HDL_MGDL, CHOLESTEROL_MGDL_PER_MMOLL)
        direct = _typed(inputs, "direct_ldl", LDL_MGDL, CHOLESTEROL_MGDL_PER_MMOLL)
    except (NotScorable, OutOfRange):
        return ()
    if direct is None:
        return ()
    typed = (
        f"{float(inputs['direct_ldl'] or 0):g} {'mmol/L' if inputs.get('is_mmoll') else 'mg/dL'}"
    )
    found = [f"LDL {typed}"] if LDL_MGDL.is_unusual(direct) else []
    if total is not None and hdl is not None and direct > total - hdl:
        found.append(f"LDL {typed} is above non-HDL cholesterol")
    return tuple(found)


LDL = "ldl_mgdl"  # measured, else by the chosen equation
LIPIDS = Measure(
    key="non_hdl_cholesterol",
    name="Non-HDL cholesterol",
    plain="The cholesterol that harms arteries (non-HDL)",
    unit="mg/dL",
    inputs=(
        Input("total", "Total cholesterol", TYPED_CHOLESTEROL),
        Input("hdl", "HDL", TYPED_CHOLESTEROL),
        Input("triglycerides", "Triglycerides", TYPED_TRIGLYCERIDES, is_needed=False),
        Input("direct_ldl", "LDL, if measured", TYPED_CHOLESTEROL, is_needed=False),
        Input("is_mmoll", "In mmol/L", is_yes_no=True, is_needed=False),
        Input("equation", "LDL by", options=EQUATIONS, is_needed=False),
    ),
    score=score,
    odd=odd,
    direction=Direction.LOWER,
    version="sampson20-1",
    citation="Sampson 2020, JAMA Cardiol 5:540; Friedewald 1972, Clin Chem 18:499",
    loinc="43396-1",
    variant_inputs=("equation",),
)
