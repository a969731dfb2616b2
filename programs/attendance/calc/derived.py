"""What is derived from a visit before a rule looks (sources stand with the rules).

A derived value that cannot be known is None: not checked, never normal. The limits named here are
a project choice that the rules share.
"""

from programs.attendance.calc.quantities import Glucose, Mass
from programs.attendance.calc.situation import Situation


def weight_gain_kg(s: Situation) -> float | None:
    """Largest gain over a weight of the last one to three days.

    Rounded to grams: in binary floating point 80.0 - 78.2 falls just short of 1.8.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Gain. [kg], below 0 for a loss; None without a weight today or one of the last three days.
    """
    if s.before.weight_kg is None or not s.known.weights_last_3_days_kg:
        return None
    return Mass(round(s.before.weight_kg - min(s.known.weights_last_3_days_kg), 3))


def fall_on_standing_mmhg(s: Situation) -> float | None:
    """Systolic pressure at rest less systolic pressure standing.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Fall. [mmHg], below 0 for a rise; None when either was not measured.
    """
    rest, standing = s.before.systolic_mmhg, s.before.standing_systolic_mmhg
    return None if rest is None or standing is None else rest - standing


SMALLEST_FALL_MMHG = 5  # the tightest limit a site or person may have
CLEARLY_MORE_METS = 1.0  # so much more work that pressure should have risen


def _falls_mmhg(s: Situation, more_mets: float = 0.0) -> tuple[list[int], list[int]]:
    """Falls to the last load from loads at least so much lower, and from those not ranked."""
    last = s.last_load
    if last.systolic_mmhg is None:
        return [], []
    falls, unranked = [], []
    if s.before.systolic_mmhg is not None:
        falls.append(s.before.systolic_mmhg - last.systolic_mmhg)
    mets = s.mets_of(last)
    for lower in s.loads[:-1]:
        if lower.systolic_mmhg is None:
            continue
        fall, cost = lower.systolic_mmhg - last.systolic_mmhg, s.mets_of(lower)
        if cost is None or mets is None:
            unranked.append(fall)
        elif mets > cost and mets - cost >= more_mets:
            falls.append(fall)
    return falls, unranked


def systolic_fall_mmhg(s: Situation) -> float | None:
    """Largest fall in systolic pressure from any lower load to the last one.

    Rest is below every load. Loads of equal cost, and those that cost more, are left aside.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Fall. [mmHg], below 0 for a rise. None when there is nothing to compare, or when no fall of 5
    (the tightest limit there may be) is known and one of 5 or more lies between loads that cannot
    be ranked.

    Raises
    ------
    OutOfRange : a workload or body mass lies outside its limits.
    """
    falls, unranked = _falls_mmhg(s)
    known = max(falls, default=None)
    if known is not None and known >= SMALLEST_FALL_MMHG:
        return known
    return None if max(unranked, default=0) >= SMALLEST_FALL_MMHG else known


def systolic_rise_mmhg(s: Situation) -> float | None:
    """Smallest rise in systolic pressure from rest, or from a clearly lower load, to the last load.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Rise. [mmHg], 0 or below when pressure did not rise. None when there is nothing to compare.

    Raises
    ------
    OutOfRange : a workload or body mass lies outside its limits.
    """
    fall = max(_falls_mmhg(s, CLEARLY_MORE_METS)[0], default=None)
    return None if fall is None else -fall


def every_fall_known(s: Situation) -> bool | None:
    """Whether the fall in systolic pressure can be told at each load with a pressure.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    True when each can; None when no pressure was taken under load, or one load cannot be compared,
    or a fall of 5 or more lies beyond those known between loads that cannot be ranked. Never False.

    Raises
    ------
    OutOfRange : a workload or body mass lies outside its limits.
    """
    with_pressure = [
        _falls_mmhg(then)
        for _, then in s.at_each_load()
        if then.last_load.systolic_mmhg is not None
    ]

    def is_known(falls: list[int], unranked: list[int]) -> bool:
        known = max(falls, default=None)
        open_fall = max(unranked, default=0)
        if known is None:
            return False
        return open_fall < SMALLEST_FALL_MMHG or open_fall <= known

    return True if with_pressure and all(is_known(*pair) for pair in with_pressure) else None


def spo2_fall_points(s: Situation) -> float | None:
    """Fall in saturation from rest to the last load.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Fall. [percentage points], below 0 for a rise; None when either saturation was not measured.
    """
    load, rest = s.last_load, s.before.spo2_percent
    return None if load.spo2_percent is None or rest is None else rest - load.spo2_percent


def beats_below_detection(s: Situation, rate: float | None) -> float | None:
    """How far a heart rate lies below the lowest rate at which a device would treat.

    Parameters
    ----------
    s : the visit as it is judged.
    rate : heart rate. [beats/min], None when not measured

    Returns
    -------
    Distance. [beats/min], below 0 beyond the detection rate; None without a rate or a detection
    rate on record.
    """
    detection = s.known.detection_bpm
    return None if rate is None or detection is None else detection - rate


def detection_unknown(s: Situation) -> float | None:
    """1 when somebody has a defibrillator whose detection rate nobody has recorded.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    1 or 0.
    """
    return float(s.known.has_icd and s.known.detection_bpm is None)


def beats_above_limit(s: Situation) -> float | None:
    """Heart rate under the last load less the person's own upper limit.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Excess. [beats/min], below 0 under the limit; None without a rate or without a limit.
    """
    rate, limit = s.last_load.heart_rate_bpm, s.known.upper_limit_bpm
    return None if rate is None or limit is None else rate - limit


KETONE_RANK = {"none": 0, "small": 1, "moderate": 2, "large": 3}


def ketone_rank(s: Situation) -> float | None:
    """How high ketones are.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Rank: 0 none or a trace, 1 small, 2 moderate, 3 large; None when not tested.
    """
    return KETONE_RANK.get(s.sheet.ketones)


def glucose_without_ketones(s: Situation) -> Glucose | None:
    """Glucose before exercise while ketones are not tested.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Glucose. [mg/dL], 0 once ketones are tested, so that the rule is settled; None when not
    measured.
    """
    if s.before.glucose is None:
        return None
    return s.before.glucose if s.sheet.ketones == "" else Glucose(0)


def glucose_with_some_ketones(s: Situation) -> Glucose | None:
    """Glucose before exercise unless a ketone test found none, or only a trace.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Glucose. [mg/dL], also while ketones are not tested; 0 when none were found; None when not
    measured.
    """
    if s.before.glucose is None:
        return None
    return Glucose(0) if s.sheet.ketones == "none" else s.before.glucose


def last_glucose(s: Situation) -> Glucose | None:
    """The latest glucose since exercise began.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Glucose. [mg/dL], by the clock; where no times are known, recovery before straight after, and
    that before the one in exercise. None when not measured.
    """
    if s.sheet.latest_recheck is not None:
        return s.sheet.latest_recheck
    moments = (s.recovery.glucose, s.after.glucose, s.during.glucose)
    return next((glucose for glucose in moments if glucose is not None), None)


def once_over(s: Situation, name: str) -> float | None:
    """A vital sign in recovery; until it is taken, the one straight after exercise stands.

    Parameters
    ----------
    s : the visit as it is judged.
    name : a field of ``Vitals``, such as "systolic_mmhg".

    Returns
    -------
    The reading. [unit in the name]; None when taken at neither moment.

    Raises
    ------
    AttributeError : no field of that name.
    """
    settled: float | None = getattr(s.recovery, name)
    straight_after: float | None = getattr(s.after, name)
    return settled if settled is not None else straight_after


def fall_after_exercise_mmhg(s: Situation) -> float | None:
    """Systolic pressure before exercise less systolic pressure after it.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Fall. [mmHg], below 0 for a rise; None when either was not measured.
    """
    after = once_over(s, "systolic_mmhg")
    rest = s.before.systolic_mmhg
    return None if rest is None or after is None else rest - after


def rate_above_rest_bpm(s: Situation) -> float | None:
    """Heart rate after exercise less heart rate before it.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    Excess. [beats/min], below 0 when slower than before; None when either was not measured.
    """
    after = once_over(s, "heart_rate_bpm")
    rest = s.before.heart_rate_bpm
    return None if rest is None or after is None else after - rest


def yes_is_one(answer: bool | None) -> float | None:
    """A yes or no as a number that a rule can compare.

    Parameters
    ----------
    answer : True, False, or None while open.

    Returns
    -------
    1 for yes, 0 for no, None while open.
    """
    return None if answer is None else float(answer)
