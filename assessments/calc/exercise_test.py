"""Results of a cardiopulmonary exercise test, entered from its report.

Peak oxygen uptake against reference equations, ventilatory efficiency, chronotropic response and
heart-rate recovery.
"""

from datetime import date

from assessments.calc import peak_heart_rate
from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    MeaningfulChange,
    Measure,
    Result,
    attempt,
    needed,
    number,
)
from assessments.calc.metabolic import RESTING_VO2
from assessments.calc.peak_heart_rate import BRAWNER_AGES
from assessments.calc.peak_uptake import EQUATIONS, FRIEND_2018, MODES, predicted_vo2
from assessments.calc.vitals import rate_pressure_product
from patients.calc.limits import (
    CYCLE_W,
    HEART_RATE_BPM,
    HEIGHT_CM,
    RER_RATIO,
    SYSTOLIC_MMHG,
    VE_VCO2,
    VO2_ML_KG_MIN,
    VO2_ML_MIN,
    WEIGHT_KG,
    NotScorable,
)
from patients.calc.person import Person

PROTOCOLS = ((1, "ramp"), (2, "steps"), (3, "Bruce"), (4, "modified Bruce"), (5, "other"))
STOPPED_FOR = (
    (1, "fatigue"),
    (2, "dyspnea"),
    (3, "legs"),
    (4, "chest pain"),
    (5, "ECG change"),
    (6, "blood pressure"),
    (7, "other"),
)
VT1_BY = ((1, "V-slope"), (2, "ventilatory equivalents"))
# mL/kg/min and mL/min are both rounded in reports; share of the value (common practice, no source).
AGREE_WITHIN = 0.03
MAXIMAL_RER = 1.10  # Chaudhry 2020, JACC Heart Failure (PMC7296992)
# Weber classes. [mL/kg/min]
WEBER_A_ABOVE, WEBER_B_FROM, WEBER_C_FROM = 20, 16, 10
# Ventilatory classes by VE/VCO2 slope.
VENTILATORY = ((0, "I"), (30, "II"), (36, "III"), (45, "IV"))
INCOMPETENT_BELOW, INCOMPETENT_BELOW_BLOCKED = 0.80, 0.62
# Heart-rate recovery at one minute, abnormal at or below. Cole 1999, N Engl J Med 341:1351. [/min]
SLOW_ACTIVE, SLOW_PASSIVE = 12, 18
ACTIVE, PASSIVE = 1, 2


def weber_class(vo2: float) -> str:
    """Weber class of a peak oxygen uptake, A best.

    Parameters
    ----------
    vo2 : peak uptake. [mL/kg/min], not checked

    Returns
    -------
    "A" to "D".

    References
    ----------
    Weber & Janicki 1985, Am J Cardiol 55:22A, from memory: 20 is B, 16 is B, 10 is C.
    """
    if vo2 > WEBER_A_ABOVE:
        return "A"
    return "B" if vo2 >= WEBER_B_FROM else "C" if vo2 >= WEBER_C_FROM else "D"


def ventilatory_class(slope: float) -> str:
    """Ventilatory class of a VE/VCO2 slope, I best.

    Parameters
    ----------
    slope : VE/VCO2 slope. [1], 10 to 120

    Returns
    -------
    "I" to "IV".

    Raises
    ------
    OutOfRange : the slope is impossible.

    References
    ----------
    Arena 2007, Circulation 115:2410-2417.
    """
    VE_VCO2.check(slope)
    return [name for low, name in VENTILATORY if slope >= low][-1]


def chronotropic_index(resting: float, peak: float, predicted: float) -> float:
    """Share of the heart-rate reserve that was used.

    Parameters
    ----------
    resting : resting heart rate. [/min], 20 to 250
    peak : highest heart rate of the test. [/min], 20 to 250
    predicted : peak predicted for the age. [/min], above resting

    Returns
    -------
    Share. [1]; negative when the peak lies below the resting rate

    Raises
    ------
    NotScorable : the predicted peak is not above the resting rate.
    OutOfRange : a rate is impossible.

    References
    ----------
    Citation of ``CHRONOTROPIC``; common practice, no source.
    """
    if predicted <= resting:
        raise NotScorable("The predicted peak is not above the resting heart rate.")
    return (HEART_RATE_BPM.check(peak) - HEART_RATE_BPM.check(resting)) / (predicted - resting)


def _check_rates(inputs: Inputs) -> None:
    """Refuse rates of one test that contradict each other."""
    rest, peak = (number(inputs, key, HEART_RATE_BPM) for key in ("resting_bpm", "peak_bpm"))
    if rest is not None and peak is not None and peak < rest:
        raise NotScorable(f"The peak heart rate {peak:g} lies below the resting rate {rest:g}.")
    for key, name in (("vt1_bpm", "first threshold"), ("ischaemia_bpm", "ischaemic threshold")):
        rate = number(inputs, key, HEART_RATE_BPM)
        if rate is None:
            continue
        if peak is not None and rate > peak:
            raise NotScorable(f"The {name} {rate:g} lies above the peak heart rate {peak:g}.")
        if rest is not None and rate < rest:
            raise NotScorable(f"The {name} {rate:g} lies below the resting rate {rest:g}.")


def _measured_vo2(inputs: Inputs, weight_kg: float | None) -> float:
    """Peak uptake as reported, per kilogram or per minute. [mL/kg/min]

    Raises
    ------
    NotScorable : neither given, mL/min without the weight, or the two do not agree.
    """
    per_kg = number(inputs, "vo2", VO2_ML_KG_MIN)
    per_minute = number(inputs, "vo2_ml_min", VO2_ML_MIN)
    if per_minute is None or (weight_kg is None and per_kg is not None):
        return needed(inputs, "vo2", VO2_ML_KG_MIN)
    if weight_kg is None:
        raise NotScorable("Uptake in mL/min needs the weight.")
    computed = VO2_ML_KG_MIN.check(per_minute / weight_kg)
    if per_kg is not None and abs(per_kg - computed) > AGREE_WITHIN * per_kg:
        raise NotScorable(
            f"{per_kg:g} mL/kg/min and {per_minute:g} mL/min at {weight_kg:g} kg do not agree."
        )
    return computed if per_kg is None else per_kg


def score_vo2(inputs: Inputs, person: Person, on: date) -> Result:
    """Peak oxygen uptake as reported, with its Weber class, against the chosen equation.

    Parameters
    ----------
    inputs : ``vo2`` [mL/kg/min], 3 to 90, or ``vo2_ml_min`` [mL/min], 200 to 7000, with the weight.
        May be empty: ``weight_kg`` [kg], 25 to 350, ``height_cm`` [cm], 100 to 250, ``rer`` [1],
        0.6 to 1.8, ``vt1_vo2`` [mL/kg/min], 3 to 90, ``mode`` 1 treadmill, 2 cycle, ``equation``
        1 FRIEND 2018 (also when empty), 2 FRIEND 2017, 3 Wasserman/Hansen, ``resting_bpm``,
        ``peak_bpm``, ``vt1_bpm`` and ``ischaemia_bpm`` [/min], 20 to 250, in this order or equal.
    person : sex and birth date.
    on : day of the test.

    Returns
    -------
    Peak uptake [mL/kg/min]; METs, predicted, share [%] and first threshold [% of peak] beside it,
    or remarks.

    Raises
    ------
    NotScorable : no uptake, mL/min without the weight, two uptakes more than 3 % apart, a
        threshold above the peak, or a rate below the resting or above the peak one.
    OutOfRange : a value is impossible, or the test lies before the birth.
    KeyError : an equation that is not offered.

    References
    ----------
    As ``weber_class`` and the equation; the exchange ratio is with its constant.
    """
    _check_rates(inputs)
    value = _measured_vo2(inputs, number(inputs, "weight_kg", WEIGHT_KG))
    rer = number(inputs, "rer", RER_RATIO)
    mode = int(inputs.get("mode") or 0)
    height, weight = number(inputs, "height_cm", HEIGHT_CM), number(inputs, "weight_kg", WEIGHT_KG)
    equation = int(inputs.get("equation") or FRIEND_2018)
    derived, remarks = [Derived("mets", "METs", value / RESTING_VO2, "METs", 1)], []
    words = [f"Weber class {weber_class(value)} (from memory)"]
    if rer is None:
        remarks.append("Effort not known: the peak exchange ratio is missing.")
    elif rer < MAXIMAL_RER:
        words.append(f"submaximal effort (exchange ratio under {MAXIMAL_RER:.2f})")
    if not mode or height is None or weight is None:
        remarks.append("No predicted value: mode, height or weight is missing.")
    else:
        found = attempt(
            remarks,
            "No predicted value",
            lambda: predicted_vo2(equation, person, on, height, weight, mode),
        )
        if found is not None:
            derived += [
                Derived("predicted", "predicted", found, "mL/kg/min", 1),
                Derived("percent_predicted", "of predicted", 100 * value / found, "%"),
            ]
    derived += _peak_product(inputs)
    vt1 = number(inputs, "vt1_vo2", VO2_ML_KG_MIN)
    if vt1 is not None and vt1 > value:
        raise NotScorable(f"The first threshold {vt1:g} lies above the peak {value:g}.")
    if vt1 is not None:
        derived.append(
            Derived("first_threshold_percent", "first threshold at", 100 * vt1 / value, "% of peak")
        )
    name = dict(EQUATIONS)[equation]
    return Result(value, "mL/kg/min", tuple(derived), "; ".join(words), name, tuple(remarks))


def _peak_product(inputs: Inputs) -> list[Derived]:
    """Rate-pressure product at the peak, where both were taken."""
    rate = number(inputs, "peak_bpm", HEART_RATE_BPM)
    pressure = number(inputs, "peak_systolic_mmhg", SYSTOLIC_MMHG)
    if rate is None or pressure is None:
        return []
    product = rate_pressure_product(rate, pressure)
    return [Derived("rate_pressure_product", "rate-pressure product", product, "mmHg/min")]


def score_slope(inputs: Inputs, person: Person, on: date) -> Result:
    """VE/VCO2 slope with its ventilatory class.

    Parameters
    ----------
    inputs : ``slope`` [1], 10 to 120.
    person, on : not used.

    Returns
    -------
    Slope. [1]

    Raises
    ------
    NotScorable : the slope is missing.
    OutOfRange : it is impossible.

    References
    ----------
    As ``ventilatory_class``.
    """
    slope = needed(inputs, "slope", VE_VCO2)
    return Result(slope, "", (), f"ventilatory class {ventilatory_class(slope)}", "Arena 2007")


def score_chronotropic(inputs: Inputs, person: Person, on: date) -> Result:
    """Chronotropic index against 220 - age, with the cut that fits the medicine.

    Parameters
    ----------
    inputs : ``resting_bpm`` and ``peak_bpm`` [/min], 20 to 250; ``on_beta_blocker`` true or false,
        without it there is no class.
    person : birth date.
    on : day of the test.

    Returns
    -------
    Index [1]; the predicted peak [/min] beside it.

    Raises
    ------
    NotScorable : a rate is missing, or the peak or the predicted peak lies below the resting rate.
    OutOfRange : a rate is impossible, or the test lies before the birth.

    References
    ----------
    As ``chronotropic_index``; cuts seen in later publications.
    """
    resting = needed(inputs, "resting_bpm", HEART_RATE_BPM)
    peak = needed(inputs, "peak_bpm", HEART_RATE_BPM)
    _check_rates(inputs)
    blocked = inputs.get("on_beta_blocker")
    expected = peak_heart_rate.fox(person.age_on(on))
    index = chronotropic_index(resting, peak, expected)
    derived = (Derived("fox_bpm", "220 - age", expected, "/min"), *_other_peaks(person, on, inputs))
    if blocked is None:
        remark = (
            "No class: whether a beta-blocker was taken is not noted, and the cut depends on it."
        )
        return Result(index, "", derived, "", "220 - age", (remark,))
    cut = INCOMPETENT_BELOW_BLOCKED if blocked else INCOMPETENT_BELOW
    side = "incompetent, under" if index < cut else "not under"
    words = f"{side} {cut:.2f} {'on' if blocked else 'without'} a beta-blocker"
    return Result(index, "", derived, words, "220 - age; cuts seen in later publications")


def _other_peaks(person: Person, on: date, inputs: Inputs) -> list[Derived]:
    """What other equations predict for this person. Their errors are wide (18 /min on a
    beta-blocker): none is a peak to prescribe from, and none decides the class."""
    age = person.age_on(on)
    if inputs.get("on_beta_blocker") is None:
        return []
    if inputs.get("on_beta_blocker"):
        known = BRAWNER_AGES[0] <= age <= BRAWNER_AGES[1]
        words = "on a beta-blocker, Brawner 2004"
        peak = peak_heart_rate.brawner(age) if known else None
        return [Derived("brawner_bpm", words, peak, "/min")] if peak is not None else []
    found = [Derived("tanaka_bpm", "208 - 0.7 age", peak_heart_rate.tanaka(age), "/min")]
    if person.sex == "female":
        peak = peak_heart_rate.gulati(person.sex, age)
        found.append(Derived("gulati_bpm", "of women, Gulati 2010", peak, "/min"))
    return found


def score_recovery(inputs: Inputs, person: Person, on: date) -> Result:
    """Fall of the heart rate in the first minute, with the cut that fits the recovery.

    Parameters
    ----------
    inputs : ``peak_bpm`` and ``one_minute_bpm`` [/min], 20 to 250; ``recovery`` 1 active, 2
        passive, without it there is no class.
    person, on : not used.

    Returns
    -------
    Fall [/min]; negative when the rate rose.

    Raises
    ------
    NotScorable : a rate is missing.
    OutOfRange : a rate is impossible.

    References
    ----------
    Citation of ``RATE_RECOVERY``; passive cut seen in later publications.
    """
    peak = needed(inputs, "peak_bpm", HEART_RATE_BPM)
    after = needed(inputs, "one_minute_bpm", HEART_RATE_BPM)
    fall = peak - after
    mode = inputs.get("recovery")
    if mode is None:
        remark = "No class: active or passive recovery is not noted, and the cut depends on it."
        return Result(fall, "/min", remarks=(remark,))
    cut = SLOW_ACTIVE if mode == ACTIVE else SLOW_PASSIVE
    words = f"slow, {cut} or less" if fall <= cut else f"not slow, more than {cut}"
    return Result(fall, "/min", (), words, "Cole 1999; passive cut seen in later publications")


def odd_recovery(inputs: Inputs) -> tuple[str, ...]:
    """A rate after one minute above the peak: seen after a transplant, else a slip.

    Parameters
    ----------
    inputs : as ``score_recovery``.

    Returns
    -------
    The question; empty when the rate fell, stayed, or is not known.

    References
    ----------
    A denervated heart lags (H-09 of the program's reference, from memory).
    """
    peak, after = inputs.get("peak_bpm"), inputs.get("one_minute_bpm")
    if peak is None or after is None or after <= peak:
        return ()
    return (f"{after:g} /min after one minute is above the peak of {peak:g} /min",)


PEAK_VO2 = Measure(
    key="peak_oxygen_uptake",
    name="Peak oxygen uptake",
    plain="The oxygen you can use at full effort",
    unit="mL/kg/min",
    inputs=(
        Input("vo2", "Peak VO₂", VO2_ML_KG_MIN, is_needed=False),
        Input("vo2_ml_min", "or in mL/min", VO2_ML_MIN, is_needed=False),
        Input("rer", "Peak exchange ratio", RER_RATIO, is_needed=False),
        Input("mode", "Mode", options=MODES, is_needed=False),
        Input("protocol", "Protocol", options=PROTOCOLS, is_needed=False),
        Input("resting_bpm", "Resting heart rate", HEART_RATE_BPM, True, is_needed=False),
        Input("peak_bpm", "Peak heart rate", HEART_RATE_BPM, True, is_needed=False),
        Input("peak_systolic_mmhg", "Peak systolic", SYSTOLIC_MMHG, True, is_needed=False),
        Input("peak_w", "Peak load", CYCLE_W, is_needed=False),
        Input("stopped_for", "Stopped for", options=STOPPED_FOR, is_needed=False),
        Input("vt1_vo2", "VO₂ at first threshold", VO2_ML_KG_MIN, is_needed=False),
        Input("vt1_bpm", "Heart rate there", HEART_RATE_BPM, True, is_needed=False),
        Input("vt1_by", "Found by", options=VT1_BY, is_needed=False),
        Input("height_cm", "Height, if not above", HEIGHT_CM, is_needed=False),
        Input("weight_kg", "Weight, if not above", WEIGHT_KG, is_needed=False),
        Input("ischaemia_bpm", "Ischaemic threshold", HEART_RATE_BPM, True, is_needed=False),
        Input("equation", "Reference", options=EQUATIONS, is_needed=False),
    ),
    score=score_vo2,
    direction=Direction.HIGHER,
    version="friend18-1",
    citation="as reported; FRIEND 2018, Eur J Prev Cardiol 25:742",
    digits=1,
    meaningful_change=MeaningfulChange(
        1.0, "heart failure; no agreed value", "Swank 2012, from memory"
    ),
    variant_inputs=("mode", "equation"),
)
VENTILATORY_SLOPE = Measure(
    key="ve_vco2_slope",
    name="VE/VCO₂ slope",
    unit="",
    inputs=(
        Input("slope", "Slope", VE_VCO2),
        Input("span", "Computed to", options=((1, "peak"), (2, "second threshold")),
              is_needed=False),
    ),
    score=score_slope,
    direction=Direction.LOWER,
    version="arena07-1",
    citation="Arena 2007, Circulation 115:2410",
    digits=1,
    variant_inputs=("span",),
)  # fmt: skip
CHRONOTROPIC = Measure(
    key="chronotropic_index",
    name="Chronotropic index",
    unit="",
    inputs=(
        Input("resting_bpm", "Resting heart rate", HEART_RATE_BPM, is_whole=True),
        Input("peak_bpm", "Peak heart rate", HEART_RATE_BPM, is_whole=True),
        Input("on_beta_blocker", "On a beta-blocker", is_yes_no=True, is_needed=False),
    ),
    score=score_chronotropic,
    direction=Direction.HIGHER,
    version="fox-1",
    citation="(peak - rest) / (220 - age - rest)",
    digits=2,
    variant_inputs=("on_beta_blocker",),
)
RATE_RECOVERY = Measure(
    key="heart_rate_recovery",
    name="Heart-rate recovery, one minute",
    plain="How far your heart rate falls in the first minute of rest",
    unit="/min",
    inputs=(
        Input("peak_bpm", "Peak heart rate", HEART_RATE_BPM, is_whole=True),
        Input("one_minute_bpm", "After one minute", HEART_RATE_BPM, is_whole=True),
        Input("recovery", "Recovery", options=((ACTIVE, "active"), (PASSIVE, "passive")),
              is_needed=False),
    ),
    score=score_recovery,
    odd=odd_recovery,
    direction=Direction.HIGHER,
    version="cole99-1",
    citation="Cole 1999, N Engl J Med 341:1351",
    variant_inputs=("recovery",),
)  # fmt: skip
