"""Resting vital signs and body size."""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    MeaningfulChange,
    Measure,
    Result,
    attempt,
    by_sex,
    needed,
)
from patients.calc.limits import (
    DIASTOLIC_MMHG,
    HEART_RATE_BPM,
    HEIGHT_CM,
    SPO2_PERCENT,
    SYSTOLIC_MMHG,
    WAIST_CM,
    WEIGHT_KG,
    check_pressure,
)
from patients.calc.person import Person

# 24.99 is normal even if shown as 25.0. [kg/m²]
BMI_CLASSES = (
    (0, "underweight"),
    (18.5, "normal weight"),
    (25, "overweight"),
    (30, "obesity class I"),
    (35, "obesity class II"),
    (40, "obesity class III"),
)


def body_mass_index(weight_kg: float, height_cm: float) -> float:
    """Weight over height squared.

    Parameters
    ----------
    weight_kg : body mass. [kg], 25 to 350
    height_cm : height. [cm], 100 to 250

    Returns
    -------
    Body mass index. [kg/m²], unrounded

    Raises
    ------
    OutOfRange : a value is impossible.

    References
    ----------
    By definition; common practice, no source.
    """
    WEIGHT_KG.check(weight_kg)
    HEIGHT_CM.check(height_cm)
    return weight_kg / (height_cm / 100) ** 2


def bmi_class(bmi: float) -> str:
    """WHO class of an unrounded BMI.

    Only binary noise is rounded away: 64 kg at 1.60 m is 25, which a float misses by 4e-15.

    Parameters
    ----------
    bmi : body mass index. [kg/m²], 0 or more, not checked

    Returns
    -------
    The class, "underweight" to "obesity class III".

    References
    ----------
    WHO classes by BMI, from memory for the full set.
    """
    return [name for low, name in BMI_CLASSES if round(bmi, 9) >= low][-1]


def pressure_category(systolic: float, diastolic: float) -> str:
    """ACC/AHA 2017 category of averaged resting readings; the higher of the two decides.

    A label for a reading, not a diagnosis.

    Parameters
    ----------
    systolic : [mmHg], 50 to 300
    diastolic : [mmHg], 20 to 200, below the systolic

    Returns
    -------
    "normal", "elevated", "stage 1", "stage 2" or "severe range".

    Raises
    ------
    OutOfRange : a pressure is impossible.
    NotScorable : the systolic is not above the diastolic.

    References
    ----------
    Citation of ``BLOOD_PRESSURE``. The severe range (above 180 or 120) is from memory.
    """
    check_pressure(systolic, diastolic)
    if systolic > 180 or diastolic > 120:
        return "severe range"
    if systolic >= 140 or diastolic >= 90:
        return "stage 2"
    if systolic >= 130 or diastolic >= 80:
        return "stage 1"
    return "elevated" if systolic >= 120 else "normal"


def score_heart_rate(inputs: Inputs, person: Person, on: date) -> Result:
    """Resting heart rate as read.

    Parameters
    ----------
    inputs : ``heart_rate_bpm`` [/min], 20 to 250; empty counts as 0 and is refused.
    person, on : not used.

    Returns
    -------
    Heart rate. [/min]

    Raises
    ------
    OutOfRange : the rate is empty or impossible.
    KeyError : its key is absent.

    References
    ----------
    Citation of ``HEART_RATE``.
    """
    return Result(HEART_RATE_BPM.check(float(inputs["heart_rate_bpm"] or 0)), "/min")


def score_pressure(inputs: Inputs, person: Person, on: date) -> Result:
    """Resting systolic pressure with its category.

    Parameters
    ----------
    inputs : ``systolic_mmhg`` [mmHg], 50 to 300, and ``diastolic_mmhg`` [mmHg], 20 to 200; empty
        counts as 0 and is refused.
    person, on : not used.

    Returns
    -------
    Systolic pressure [mmHg]; the diastolic beside it.

    Raises
    ------
    OutOfRange : a pressure is empty or impossible.
    NotScorable : the systolic is not above the diastolic.
    KeyError : a key is absent.

    References
    ----------
    As ``pressure_category``.
    """
    systolic, diastolic = float(inputs["systolic_mmhg"] or 0), float(inputs["diastolic_mmhg"] or 0)
    category = pressure_category(systolic, diastolic)
    return Result(
        systolic,
        "mmHg",
        (Derived("diastolic_mmhg", "diastolic", diastolic, "mmHg"),),
        f"ACC/AHA 2017: {category}",
        "program goal below 130/80 (ACC/AHA)",
    )


def score_saturation(inputs: Inputs, person: Person, on: date) -> Result:
    """Oxygen saturation at rest as read.

    Parameters
    ----------
    inputs : ``spo2_percent`` [%], 50 to 100; empty counts as 0 and is refused.
    person, on : not used.

    Returns
    -------
    Saturation. [%]

    Raises
    ------
    OutOfRange : the saturation is empty or impossible.
    KeyError : its key is absent.

    References
    ----------
    Citation of ``SATURATION``.
    """
    return Result(SPO2_PERCENT.check(float(inputs["spo2_percent"] or 0)), "%")


def score_body(inputs: Inputs, person: Person, on: date) -> Result:
    """Body mass index with its class.

    Parameters
    ----------
    inputs : ``weight_kg`` [kg], 25 to 350, and ``height_cm`` [cm], 100 to 250; empty counts as 0
        and is refused.
    person, on : not used.

    Returns
    -------
    Body mass index [kg/m²]; weight and height beside it.

    Raises
    ------
    OutOfRange : a value is empty or impossible.
    KeyError : a key is absent.

    References
    ----------
    As ``bmi_class``.
    """
    weight, height = float(inputs["weight_kg"] or 0), float(inputs["height_cm"] or 0)
    bmi = body_mass_index(weight, height)
    derived = (
        Derived("weight_kg", "weight", weight, "kg", 1),
        Derived("height_cm", "height", height, "cm"),
    )
    return Result(bmi, "kg/m²", derived, bmi_class(bmi), "WHO")


HEART_RATE = Measure(
    key="resting_heart_rate",
    name="Resting heart rate",
    plain="Your heart rate at rest",
    unit="/min",
    inputs=(Input("heart_rate_bpm", "Heart rate", HEART_RATE_BPM, is_whole=True),),
    score=score_heart_rate,
    direction=Direction.NEITHER,
    version="raw-1",
    citation="as read, seated after five minutes’ rest (common practice, no source)",
    loinc="8867-4",
)
GOAL_MMHG = 130  # ACC/AHA 2017: the goal lies below it
LOW_MMHG = 90  # below it a fall is no gain (common practice, no source)
CUFF_ERROR = MeaningfulChange(
    5, "automated cuffs", "ISO 81060-2: mean error within 5 mmHg, from memory"
)
BLOOD_PRESSURE = Measure(
    key="resting_blood_pressure",
    name="Resting systolic pressure",
    plain="The upper number of your blood pressure at rest",
    unit="mmHg",
    inputs=(
        Input("systolic_mmhg", "Systolic", SYSTOLIC_MMHG, is_whole=True),
        Input("diastolic_mmhg", "Diastolic", DIASTOLIC_MMHG, is_whole=True),
    ),
    score=score_pressure,
    direction=Direction.LOWER,
    judged_from=GOAL_MMHG,
    judged_down_to=LOW_MMHG,
    detectable_change=CUFF_ERROR,
    version="accaha17-1",
    citation="ACC/AHA 2017 categories, kept in AHA/ACC 2025",
    loinc="8480-6",
)
OXIMETER_ERROR = MeaningfulChange(
    4, "pulse oximeters", "ISO 80601-2-61: accuracy within 4 %, from memory"
)
SATURATION = Measure(
    key="oxygen_saturation",
    name="Oxygen saturation at rest",
    plain="The oxygen in your blood at rest",
    unit="%",
    inputs=(Input("spo2_percent", "SpO₂", SPO2_PERCENT, is_whole=True),),
    score=score_saturation,
    direction=Direction.HIGHER,
    detectable_change=OXIMETER_ERROR,
    version="raw-1",
    citation="as read by pulse oximetry",
    loinc="2708-6",
)
BODY_SIZE = Measure(
    key="body_mass_index",
    name="Body mass index",
    plain="Your weight for your height (body mass index)",
    unit="kg/m²",
    inputs=(
        Input("weight_kg", "Weight", WEIGHT_KG),
        Input("height_cm", "Height", HEIGHT_CM),
    ),
    score=score_body,
    direction=Direction.NEITHER,
    version="who-1",
    citation="WHO classes",
    digits=1,
    loinc="39156-5",
)


WAIST_SITES = ((1, "midway rib to hip bone"), (2, "navel"), (3, "top of the hip bone"))
# Increased and substantially increased above these, men and women. [cm]
WAIST_ABOVE = ((94, 102), (80, 88))


def waist_class(sex: str, waist_cm: float) -> str:
    """WHO class of a waist.

    Parameters
    ----------
    sex : "female" or "male".
    waist_cm : [cm], 40 to 220

    Returns
    -------
    "not increased", "increased risk" or "substantially increased risk".

    Raises
    ------
    NotScorable : the sex is not recorded.
    OutOfRange : the waist is impossible.

    References
    ----------
    WHO 2008, seen in later publications.
    """
    increased, much = by_sex(sex, *WAIST_ABOVE, "WHO 2008")
    if WAIST_CM.check(waist_cm) > much:
        return "substantially increased risk"
    return "increased risk" if waist_cm > increased else "not increased"


def score_waist(inputs: Inputs, person: Person, on: date) -> Result:
    """Waist with its class, or a remark why there is none.

    Parameters
    ----------
    inputs : ``waist_cm`` [cm], 40 to 220.
    person : sex.
    on : not used.

    Returns
    -------
    Waist. [cm]

    Raises
    ------
    NotScorable : the waist is missing.
    OutOfRange : it is impossible.

    References
    ----------
    As ``waist_class``.
    """
    waist = needed(inputs, "waist_cm", WAIST_CM)
    remarks: list[str] = []
    words = attempt(remarks, "No class", lambda: waist_class(person.sex, waist))
    return Result(waist, "cm", (), words or "", "WHO 2008", tuple(remarks))


def rate_pressure_product(heart_rate_bpm: float, systolic_mmhg: float) -> float:
    """Heart rate times systolic pressure.

    Parameters
    ----------
    heart_rate_bpm : [/min], 20 to 250
    systolic_mmhg : [mmHg], 50 to 300

    Returns
    -------
    Rate-pressure product. [mmHg/min]

    Raises
    ------
    OutOfRange : a value is impossible.

    References
    ----------
    common practice, no source
    """
    return HEART_RATE_BPM.check(heart_rate_bpm) * SYSTOLIC_MMHG.check(systolic_mmhg)


WAIST = Measure(
    key="waist",
    name="Waist",
    plain="Your waist",
    unit="cm",
    inputs=(
        Input("waist_cm", "Waist", WAIST_CM),
        Input("site", "Measured at", options=WAIST_SITES),
    ),
    score=score_waist,
    direction=Direction.LOWER,
    version="who08-1",
    citation="WHO 2008",
    variant_inputs=("site",),
)
