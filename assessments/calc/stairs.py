"""Stair climb: time up, and the power it took. Stairs differ, so no norm is general."""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    Measure,
    Result,
    needed,
    number,
)
from patients.calc.limits import RISER_CM, STAIR_STEPS, STAIRS_S, WEIGHT_KG
from patients.calc.person import Person

STANDARD_GRAVITY = 9.80665  # m/s², exact by definition


def climbing_power_w(weight_kg: float, steps: int, riser_cm: float, seconds: float) -> float:
    """Mean mechanical power against gravity on the way up.

    Parameters
    ----------
    weight_kg : body mass. [kg], 25 to 350
    steps : number of steps, 2 to 60
    riser_cm : height of one. [cm], 8 to 30
    seconds : time up. [s], 1 to 300

    Returns
    -------
    Power. [W]

    Raises
    ------
    OutOfRange : a value is impossible.

    References
    ----------
    Citation of ``STAIR_CLIMB``; common practice, no source.
    """
    height_m = STAIR_STEPS.check(steps) * RISER_CM.check(riser_cm) / 100
    return WEIGHT_KG.check(weight_kg) * STANDARD_GRAVITY * height_m / STAIRS_S.check(seconds)


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Time up the stairs, with the power where the weight is known.

    Parameters
    ----------
    inputs : ``ascent_s`` [s], 1 to 300; ``steps``, 2 to 60; ``riser_cm`` [cm], 8 to 30;
        ``weight_kg`` [kg], 25 to 350, and ``descent_s`` [s], 1 to 300, may be empty.
    person, on : not used.

    Returns
    -------
    Time up [s]; power [W] and time down [s] beside it where known.

    Raises
    ------
    NotScorable : time up, steps or their height are missing.
    OutOfRange : a value is impossible.

    References
    ----------
    As ``climbing_power_w``.
    """
    seconds = needed(inputs, "ascent_s", STAIRS_S)
    steps, riser = needed(inputs, "steps", STAIR_STEPS), needed(inputs, "riser_cm", RISER_CM)
    weight = number(inputs, "weight_kg", WEIGHT_KG)
    remarks = ["No general norm: compare on the same stairs only."]
    derived = []
    if weight is None:
        remarks.append("No power: weight is missing.")
    else:
        power = climbing_power_w(weight, int(steps), riser, seconds)
        derived.append(Derived("power_w", "power going up", power, "W"))
    down = number(inputs, "descent_s", STAIRS_S)
    if down is not None:
        derived.append(Derived("down_s", "down in", down, "s", 1))
    return Result(seconds, "s", tuple(derived), "", "", tuple(remarks))


STAIR_CLIMB = Measure(
    key="stair_climb",
    name="Stair climb",
    plain="The time to climb the stairs",
    unit="s",
    inputs=(
        Input("ascent_s", "Time up", STAIRS_S),
        Input("descent_s", "Time down", STAIRS_S, is_needed=False),
        Input("steps", "Steps", STAIR_STEPS, is_whole=True),
        Input("riser_cm", "Height of one", RISER_CM),
        Input("weight_kg", "Weight, if not above", WEIGHT_KG, is_needed=False),
        Input("used_rail", "Used the rail", is_yes_no=True, is_needed=False),
    ),
    score=score,
    direction=Direction.LOWER,
    version="power-1",
    citation="work against gravity over time; steps and rise as recorded",
    digits=1,
    variant_inputs=("steps", "riser_cm", "used_rail"),
)
