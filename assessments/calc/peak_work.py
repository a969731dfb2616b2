"""A maximal exercise test without gas analysis: peak uptake from the last workload."""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    Measure,
    Result,
    attempt,
    needed,
    number,
)
from assessments.calc.metabolic import RESTING_VO2, friend_cycle, friend_treadmill
from assessments.calc.peak_uptake import CYCLE, FRIEND_2018, MODES, TREADMILL, predicted_vo2
from patients.calc.limits import (
    CYCLE_W,
    GRADE_PERCENT,
    HEART_RATE_BPM,
    HEIGHT_CM,
    TREADMILL_KMH,
    WEIGHT_KG,
    NotScorable,
)
from patients.calc.person import Person


def estimated_vo2(inputs: Inputs) -> float:
    """Peak uptake from the last workload that was held.

    Parameters
    ----------
    inputs : ``mode`` 1 treadmill with ``speed_kmh`` [km/h] and ``grade_percent`` [%], 0 when
        empty; 2 cycle with ``peak_w`` [W] and ``weight_kg`` [kg].

    Returns
    -------
    Uptake. [mL/kg/min]

    Raises
    ------
    NotScorable : the mode or what it needs is missing.
    OutOfRange : a value is impossible.

    References
    ----------
    As ``friend_treadmill`` and ``friend_cycle``.
    """
    mode = inputs.get("mode")
    if mode == TREADMILL:
        speed = needed(inputs, "speed_kmh", TREADMILL_KMH)
        grade = number(inputs, "grade_percent", GRADE_PERCENT) or 0.0
        return friend_treadmill(speed, grade / 100).vo2
    if mode == CYCLE:
        power = needed(inputs, "peak_w", CYCLE_W)
        return friend_cycle(power, needed(inputs, "weight_kg", WEIGHT_KG)).vo2
    raise NotScorable("Say whether it was a treadmill or a cycle.")


def score(inputs: Inputs, person: Person, on: date) -> Result:
    """Estimated peak uptake, and what FRIEND expects of this person on the same machine.

    Parameters
    ----------
    inputs : as ``estimated_vo2``; ``height_cm`` [cm] for what is expected.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Uptake [mL/kg/min]; METs, expected uptake and share [%] beside it, or a remark.

    Raises
    ------
    NotScorable, OutOfRange : as ``estimated_vo2``.

    References
    ----------
    As ``estimated_vo2``; expected: de Souza e Silva 2018, Eur J Prev Cardiol 25:742-750.
    """
    value = estimated_vo2(inputs)
    remarks = ["Estimated from the workload, not measured."]
    derived = [Derived("mets", "METs", value / RESTING_VO2, "METs", 1)]
    height, weight = number(inputs, "height_cm", HEIGHT_CM), number(inputs, "weight_kg", WEIGHT_KG)
    if height is None or weight is None:
        remarks.append("No predicted value: height or weight is missing.")
    else:
        mode = int(inputs["mode"] or 0)
        found = attempt(
            remarks,
            "No predicted value",
            lambda: predicted_vo2(FRIEND_2018, person, on, height, weight, mode),
        )
        if found is not None:
            derived += [
                Derived("predicted", "predicted", found, "mL/kg/min", 1),
                Derived("percent_predicted", "of predicted", 100 * value / found, "%"),
            ]
    return Result(value, "mL/kg/min", tuple(derived), "", "FRIEND", tuple(remarks))


PEAK_WORK = Measure(
    key="peak_work",
    name="Maximal test, uptake from the workload",
    plain="How much exercise your body can do",
    unit="mL/kg/min",
    inputs=(
        Input("mode", "Mode", options=MODES),
        Input("speed_kmh", "Last speed, treadmill", TREADMILL_KMH, is_needed=False),
        Input("grade_percent", "Last grade", GRADE_PERCENT, is_needed=False),
        Input("peak_w", "Last power, cycle", CYCLE_W, is_needed=False),
        Input("resting_bpm", "Resting heart rate", HEART_RATE_BPM, True, is_needed=False),
        Input("peak_bpm", "Peak heart rate", HEART_RATE_BPM, True, is_needed=False),
        Input("height_cm", "Height, if not above", HEIGHT_CM, is_needed=False),
        Input("weight_kg", "Weight, if not above", WEIGHT_KG, is_needed=False),
    ),
    score=score,
    direction=Direction.HIGHER,
    version="friend-1",
    citation="Kokkinos 2017 (treadmill) and 2018 (cycle), FRIEND",
    digits=1,
    variant_inputs=("mode",),
)
