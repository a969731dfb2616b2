"""Aerobic capacity from submaximal tests. A beta-blocker makes both of them wrong."""

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
    needed,
)
from assessments.calc.metabolic import RESTING_VO2, leg_cycling, treadmill
from assessments.calc.peak_heart_rate import fox
from patients.calc.limits import (
    CYCLE_W,
    HEART_RATE_BPM,
    TREADMILL_KMH,
    VO2_ML_KG_MIN,
    WEIGHT_KG,
    NotScorable,
)
from patients.calc.person import Person
from patients.calc.units import (
    kmh_from_metres_per_minute,
    metres_per_minute_from_mph,
    mph_from_kmh,
)

EBBELING_KMH = (3.2, 7.2)  # 2.0 and 4.5 mph, as treadmills in km/h show them
EBBELING_GRADE = 0.05
# Between two stages: a line through rates closer than this says nothing of the peak (common
# practice, no source). [/min]
RATES_APART_BPM = 10
LOWEST_BPM, HIGHEST_SHARE = 110, 0.85  # of predicted peak; method from memory


def _refuse_beta_blocker(inputs: Inputs) -> None:
    answer = inputs.get("on_beta_blocker")
    if answer is None:
        raise NotScorable("Say whether a beta-blocker is taken: it makes this estimate wrong.")
    if answer:
        raise NotScorable("On a beta-blocker the heart rate is blunted; this estimate is refused.")


def ebbeling(sex: str, age: int, speed_mph: float, heart_rate_bpm: float) -> float:
    """Aerobic capacity from four minutes of brisk walking at 5 % grade [1]_.

    Parameters
    ----------
    sex : "female" or "male".
    age : [years], 20 to 59
    speed_mph : [mph], 2.0 to 4.5, to one decimal in km/h
    heart_rate_bpm : in the last 15 s. [/min], 20 to 250

    Returns
    -------
    Estimated peak uptake. [mL/kg/min]

    Raises
    ------
    NotScorable : age or speed outside the range, or sex not recorded.
    OutOfRange : the heart rate is impossible.

    References
    ----------
    .. [1] C. B. Ebbeling et al., Med. Sci. Sports Exerc., vol. 23, pp. 966-973, 1991; SEE 4.85.
    """
    check_age(age, 20, 59, "Ebbeling 1991")
    speed_kmh = kmh_from_metres_per_minute(metres_per_minute_from_mph(speed_mph))
    if not EBBELING_KMH[0] <= round(speed_kmh, 1) <= EBBELING_KMH[1]:
        raise NotScorable("Ebbeling 1991 holds for 2.0 to 4.5 mph (3.2 to 7.2 km/h).")
    men = by_sex(sex, 5.98, 0.0, "Ebbeling 1991")
    rate = HEART_RATE_BPM.check(heart_rate_bpm)
    return (
        15.1
        + 21.8 * speed_mph
        - 0.327 * rate
        - 0.263 * speed_mph * age
        + 0.00504 * rate * age
        + men
    )


def power_at_peak_w(stages: tuple[tuple[float, float], tuple[float, float]], peak: float) -> float:
    """Power at the predicted peak heart rate, by a line through two steady stages.

    Parameters
    ----------
    stages : lower and higher one, (power [W], heart rate [/min], 110 to 85 % of ``peak``) each.
    peak : predicted peak heart rate. [/min], not checked

    Returns
    -------
    Power, extrapolated. [W]

    Raises
    ------
    NotScorable : the power or the heart rate does not rise, the rates lie less than 10 apart, or
        one lies outside 110 to 85 % of the predicted peak.

    References
    ----------
    Method from memory.
    """
    (low_w, low_bpm), (high_w, high_bpm) = stages
    if high_w <= low_w or high_bpm <= low_bpm:
        raise NotScorable("Power and heart rate must both rise from the first to the second stage.")
    most = HIGHEST_SHARE * peak
    if low_bpm < LOWEST_BPM or high_bpm > most:
        raise NotScorable(f"Both heart rates must lie between {LOWEST_BPM} and {most:.0f} /min.")
    if round(high_bpm - low_bpm, 6) < RATES_APART_BPM:  # binary fractions fall just short of 10
        raise NotScorable(
            f"{low_bpm:g} and {high_bpm:g} /min are too close for a line to the peak: at least "
            f"{RATES_APART_BPM} apart."
        )
    slope = (high_bpm - low_bpm) / (high_w - low_w)
    return high_w + (peak - high_bpm) / slope


def _check_estimate(value: float, stage: float) -> None:
    """Refuse what nobody has. A peak is no lower than the stage that was walked or pedalled."""
    if value < stage:
        raise NotScorable(
            f"{value:.1f} mL/kg/min lies below the {stage:.1f} that the stage itself costs; check "
            "workload and heart rate."
        )
    if value > VO2_ML_KG_MIN.high:
        raise NotScorable(f"{value:.0f} mL/kg/min is no uptake anybody has; check the entries.")


def score_treadmill(inputs: Inputs, person: Person, on: date) -> Result:
    """Capacity estimated from one stage on the treadmill.

    Parameters
    ----------
    inputs : ``speed_kmh`` [km/h], 3.2 to 7.2 at 5 % grade; ``heart_rate_bpm`` [/min], 20 to 250;
        ``on_beta_blocker`` false.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Estimated peak uptake [mL/kg/min]; in METs beside it.

    Raises
    ------
    NotScorable : on a beta-blocker or not said, speed or rate missing, as ``ebbeling``, or an
        estimate below what the stage itself costs or above 90.
    OutOfRange : speed or rate is impossible, or the test lies before the birth.

    References
    ----------
    As ``ebbeling``.
    """
    _refuse_beta_blocker(inputs)
    speed = needed(inputs, "speed_kmh", TREADMILL_KMH)
    rate = needed(inputs, "heart_rate_bpm", HEART_RATE_BPM)
    value = ebbeling(person.sex, person.age_on(on), mph_from_kmh(speed), rate)
    _check_estimate(value, treadmill(speed, EBBELING_GRADE).vo2)
    derived = (Derived("mets", "METs", value / RESTING_VO2, "METs", 1),)
    remark = "Derived in healthy people; SEE 4.85 mL/kg/min."
    return Result(value, "mL/kg/min", derived, "estimate", "Ebbeling 1991", (remark,))


def score_cycle(inputs: Inputs, person: Person, on: date) -> Result:
    """Capacity estimated from two stages on the cycle.

    Parameters
    ----------
    inputs : ``first_w`` and ``second_w`` [W], 0 to 600, rising; ``first_bpm`` and ``second_bpm``
        [/min], 110 to 85 % of 220 - age, rising; ``weight_kg`` [kg], 25 to 350;
        ``on_beta_blocker`` false.
    person : birth date.
    on : day of the test.

    Returns
    -------
    Estimated peak uptake [mL/kg/min]; power [W] and METs beside it. Out of range where the cycle
    equation is.

    Raises
    ------
    NotScorable : on a beta-blocker or not said, a value missing, as ``power_at_peak_w``, or an
        estimate above 90.
    OutOfRange : a value is impossible, a power above 600 W is reached, or the test lies before the
        birth.

    References
    ----------
    Citation of ``CYCLE_STAGES``.
    """
    _refuse_beta_blocker(inputs)
    stages = (
        (needed(inputs, "first_w", CYCLE_W), needed(inputs, "first_bpm", HEART_RATE_BPM)),
        (needed(inputs, "second_w", CYCLE_W), needed(inputs, "second_bpm", HEART_RATE_BPM)),
    )
    weight = needed(inputs, "weight_kg", WEIGHT_KG)
    peak = fox(person.age_on(on))
    power = power_at_peak_w(stages, peak)
    cost = leg_cycling(power, weight)
    value = cost.vo2
    _check_estimate(value, leg_cycling(stages[1][0], weight).vo2)
    derived = (
        Derived("power_at_peak_w", "power at 220 - age", power, "W"),
        Derived("mets", "METs", value / RESTING_VO2, "METs", 1),
    )
    remarks = ["A line through two stages, extended to a predicted peak: wide error (from memory)."]
    if not cost.is_in_range:
        remarks.append(
            "Outside the validated range: the ACSM equation holds for about 50 to 200 W."
        )
    name = "220 - age; ACSM leg cycle"
    return Result(value, "mL/kg/min", derived, "estimate", name, tuple(remarks), cost.is_in_range)


SINGLE_STAGE = Measure(
    key="single_stage_treadmill",
    name="Single-stage treadmill",
    plain="The oxygen you can use at full effort, estimated",
    unit="mL/kg/min",
    inputs=(
        Input("speed_kmh", "Speed at 5 % grade", TREADMILL_KMH),
        Input("heart_rate_bpm", "Heart rate, last 15 s", HEART_RATE_BPM, is_whole=True),
        Input("on_beta_blocker", "On a beta-blocker", is_yes_no=True, is_needed=False),
    ),
    score=score_treadmill,
    direction=Direction.HIGHER,
    version="ebbeling91-1",
    citation="Ebbeling 1991, Med Sci Sports Exerc 23:966",
    digits=1,
)
CYCLE_STAGES = Measure(
    key="cycle_stages",
    name="Cycle, two stages",
    plain="The oxygen you can use at full effort, estimated on the cycle",
    unit="mL/kg/min",
    inputs=(
        Input("first_w", "First stage", CYCLE_W),
        Input("first_bpm", "Heart rate", HEART_RATE_BPM, is_whole=True),
        Input("second_w", "Second stage", CYCLE_W),
        Input("second_bpm", "Heart rate", HEART_RATE_BPM, is_whole=True),
        Input("weight_kg", "Weight, if not above", WEIGHT_KG, is_needed=False),
        Input("on_beta_blocker", "On a beta-blocker", is_yes_no=True, is_needed=False),
    ),
    score=score_cycle,
    direction=Direction.HIGHER,
    version="two-stages-1",
    citation="line through two stages, method from memory; ACSM leg cycle equation",
    digits=1,
)
