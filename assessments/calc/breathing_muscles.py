"""Maximal inspiratory and expiratory pressure at the mouth, as positive magnitudes.

Predicted values and lower limits after Evans & Whitelaw 2009, Respir Care 54:1348-1359: adults up
to about 70 years, flanged mouthpiece. The limit has a slope of its own.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    Measure,
    Result,
    attempt,
    by_sex,
    needed,
    number,
)
from patients.calc.limits import MOUTH_PRESSURE_CMH2O, NotScorable
from patients.calc.person import Person

SOURCE = "Evans & Whitelaw 2009"
OLDEST = 70
# Inspiratory weakness in heart failure below this share of predicted: Nakagawa 2020, Respir Care
# 65:507. Another flag than the lower limit, which is only some 56 % of predicted at 60 years.
WEAK_BELOW_PERCENT = 70


@dataclass(frozen=True)
class Pressure:
    """Predicted pressure and its lower limit. [cmH₂O]"""

    predicted: float
    lower_limit: float


def inspiratory(sex: str, age: int) -> Pressure:
    """Predicted maximal inspiratory pressure and its lower limit.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], up to about 70, not checked

    Returns
    -------
    Both as positive magnitudes. [cmH₂O]

    Raises
    ------
    NotScorable : the sex is not recorded.

    References
    ----------
    Module docstring.
    """
    men = Pressure(120 - 0.41 * age, 62 - 0.15 * age)
    return by_sex(sex, men, Pressure(108 - 0.61 * age, 62 - 0.50 * age), SOURCE)


def expiratory(sex: str, age: int) -> Pressure:
    """Predicted maximal expiratory pressure and its lower limit.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], up to about 70, not checked

    Returns
    -------
    Both as positive magnitudes. [cmH₂O]

    Raises
    ------
    NotScorable : the sex is not recorded.

    References
    ----------
    Module docstring.
    """
    men = Pressure(174 - 0.83 * age, 117 - 0.83 * age)
    return by_sex(sex, men, Pressure(131 - 0.86 * age, 95 - 0.57 * age), SOURCE)


def _scored(
    inputs: Inputs,
    person: Person,
    on: date,
    reference: Callable[[str, int], Pressure],
    weak_below: float | None,
) -> Result:
    value, age = needed(inputs, "best_cmh2o", MOUTH_PRESSURE_CMH2O), person.age_on(on)
    remarks: list[str] = []
    second = number(inputs, "second_cmh2o", MOUTH_PRESSURE_CMH2O)
    if second is not None and second > value:
        raise NotScorable(f"The second best {second:g} lies above the best {value:g}.")
    if second is None:
        remarks.append("One effort only; at least three acceptable ones are asked for.")
    found = attempt(remarks, "No reference", lambda: reference(person.sex, age))
    if found is None:
        return Result(value, "cmH₂O", remarks=tuple(remarks))
    share = 100 * value / found.predicted
    below = value < found.lower_limit
    words = ["below the lower limit" if below else "not below the lower limit"]
    if weak_below is not None:
        side = "under" if share < weak_below else "not under"
        words.append(f"{side} {weak_below:g} % of predicted")
    is_in_range = age <= OLDEST
    if not is_in_range:
        remarks.append(f"Outside the validated range: {SOURCE} goes to about {OLDEST} years.")
    derived = (
        Derived("predicted", "predicted", found.predicted, "cmH₂O"),
        Derived("lower_limit", "lower limit", found.lower_limit, "cmH₂O"),
        Derived("percent_predicted", "of predicted", share, "%"),
    )
    return Result(value, "cmH₂O", derived, "; ".join(words), SOURCE, tuple(remarks), is_in_range)


def score_inspiratory(inputs: Inputs, person: Person, on: date) -> Result:
    """Inspiratory pressure against the lower limit and 70 % of predicted.

    Parameters
    ----------
    inputs : ``best_cmh2o`` [cmH₂O], 1 to 300; ``second_cmh2o`` the same, may be empty.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Best pressure [cmH₂O]; predicted, lower limit and share [%] beside it, or a remark. Out of range
    after 70 years.

    Raises
    ------
    NotScorable : the best effort is missing, or the second lies above it.
    OutOfRange : a pressure is impossible, or the test lies before the birth.

    References
    ----------
    Module docstring; the 70 % is with its constant.
    """
    return _scored(inputs, person, on, inspiratory, WEAK_BELOW_PERCENT)


def score_expiratory(inputs: Inputs, person: Person, on: date) -> Result:
    """Expiratory pressure against the lower limit.

    Parameters
    ----------
    inputs : ``best_cmh2o`` [cmH₂O], 1 to 300; ``second_cmh2o`` the same, may be empty.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Best pressure [cmH₂O]; predicted, lower limit and share [%] beside it, or a remark. Out of range
    after 70 years.

    Raises
    ------
    NotScorable : the best effort is missing, or the second lies above it.
    OutOfRange : a pressure is impossible, or the test lies before the birth.

    References
    ----------
    Module docstring.
    """
    return _scored(inputs, person, on, expiratory, None)


PRESSURES = (
    Input("best_cmh2o", "Best effort", MOUTH_PRESSURE_CMH2O),
    Input("second_cmh2o", "Second best", MOUTH_PRESSURE_CMH2O, is_needed=False),
)
INSPIRATORY = Measure(
    key="maximal_inspiratory_pressure",
    name="Maximal inspiratory pressure",
    plain="How hard you can breathe in",
    unit="cmH₂O",
    inputs=PRESSURES,
    score=score_inspiratory,
    direction=Direction.HIGHER,
    version="evans09-1",
    citation="Evans & Whitelaw 2009, Respir Care 54:1348",
)
EXPIRATORY = Measure(
    key="maximal_expiratory_pressure",
    name="Maximal expiratory pressure",
    plain="How hard you can breathe out",
    unit="cmH₂O",
    inputs=PRESSURES,
    score=score_expiratory,
    direction=Direction.HIGHER,
    version="evans09-1",
    citation="Evans & Whitelaw 2009, Respir Care 54:1348",
)
