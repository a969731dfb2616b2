"""What exercise costs, and which workload costs a wanted amount.

ACSM metabolic equations for steady submaximal work (Bushman 2020, ACSM's Health Fit J 24(3):6-10
and 24(4):5-8). They overestimate peak capacity in cardiac patients (Jang 2020,
doi:10.3390/jcm9061889), so a maximal test is read by the FRIEND equations. Bands of
METs and 5 kcal per litre of oxygen: common practice, no source.
"""

from dataclasses import dataclass

from patients.calc.limits import (
    BOUT_MINUTES,
    CYCLE_W,
    STEP_HEIGHT_CM,
    STEPS_PER_MINUTE,
    TREADMILL_GRADE,
    WEIGHT_KG,
    NotScorable,
    OutOfRange,
)
from patients.calc.units import kmh_from_metres_per_minute, metres_per_minute_from_kmh

VERSION = "acsm-workload-1"
# Metabolic rate at rest by convention, one MET. [mL/kg/min]
RESTING_VO2 = 3.5
KGM_PER_MIN_PER_W = 6.12  # 1 W = 6.12 kg·m/min; texts that use 6 give slightly less
WALK_RANGE = (50.0, 100.0)  # [m/min] where the walking equation was validated
SLOWEST_WALK_KMH, FASTEST_WALK_KMH = (kmh_from_metres_per_minute(s) for s in WALK_RANGE)
BRISK_WALK_KMH = 4.8  # a pace to which a grade is suggested (project choice)
RUN_FROM = 134.0  # [m/min]; between 100 and 134 neither equation is certain
SLOWEST_RUN_KMH = kmh_from_metres_per_minute(RUN_FROM)
LEG_RANGE = (300.0, 1200.0)  # [kg·m/min]
ARM_RANGE = (150.0, 750.0)  # [kg·m/min]
STEP_RATE_RANGE = (12.0, 30.0)  # [/min]
MET_BANDS = ((0.0, "light"), (3.0, "moderate"), (6.0, "vigorous"))


@dataclass(frozen=True)
class Cost:
    """Gross oxygen cost; ``is_in_range`` is false outside the equation’s validated span."""

    vo2: float  # [mL/kg/min]
    is_in_range: bool
    equation: str

    @property
    def mets(self) -> float:
        """Multiples of resting metabolism, 1 MET = 3.5 mL/kg/min."""
        return self.vo2 / RESTING_VO2


def walking(speed_m_min: float, grade: float = 0.0) -> Cost:
    """Treadmill or track walking: 0.1 S + 1.8 S G + 3.5.

    Parameters
    ----------
    speed_m_min : speed. [m/min], above 0; validated 50 to 100
    grade : slope as a fraction. [1], -0.05 to 0.30; a value of 1 or more is per cent by mistake

    Returns
    -------
    Cost, gross. [mL/kg/min]

    Raises
    ------
    OutOfRange : the grade or speed is impossible.
    """
    _check_speed(speed_m_min)
    TREADMILL_GRADE.check(grade)
    vo2 = 0.1 * speed_m_min + 1.8 * speed_m_min * grade + RESTING_VO2
    in_range = WALK_RANGE[0] <= speed_m_min <= WALK_RANGE[1] and grade >= 0
    return Cost(vo2, in_range, "ACSM walking")


def running(speed_m_min: float, grade: float = 0.0) -> Cost:
    """Treadmill running: 0.2 S + 0.9 S G + 3.5.

    Parameters
    ----------
    speed_m_min : speed. [m/min], above 0, at most 420; validated above 134
    grade : slope as a fraction. [1], -0.05 to 0.30; in range from 0

    Returns
    -------
    Cost, gross. [mL/kg/min]

    Raises
    ------
    OutOfRange : the grade or speed is impossible.
    """
    _check_speed(speed_m_min)
    TREADMILL_GRADE.check(grade)
    vo2 = 0.2 * speed_m_min + 0.9 * speed_m_min * grade + RESTING_VO2
    return Cost(vo2, speed_m_min > RUN_FROM and grade >= 0, "ACSM running")


def leg_cycling(power_w: float, weight_kg: float) -> Cost:
    """Leg ergometer: 1.8 WR/M + 3.5 + 3.5, WR = 6.12 W.

    Parameters
    ----------
    power_w : power. [W], 0 to 600; validated about 50 to 200
    weight_kg : body mass. [kg], 25 to 350

    Returns
    -------
    Cost, gross. [mL/kg/min]

    Raises
    ------
    OutOfRange : the power or body mass is impossible.
    """
    CYCLE_W.check(power_w)
    WEIGHT_KG.check(weight_kg)
    rate = power_w * KGM_PER_MIN_PER_W
    vo2 = 1.8 * rate / weight_kg + 2 * RESTING_VO2
    return Cost(vo2, LEG_RANGE[0] <= rate <= LEG_RANGE[1], "ACSM leg ergometer")


def arm_cycling(power_w: float, weight_kg: float) -> Cost:
    """Arm ergometer: 3.0 WR/M + 3.5, WR = 6.12 W (coefficients from memory).

    Parameters
    ----------
    power_w : power. [W], 0 to 600; validated about 25 to 120
    weight_kg : body mass. [kg], 25 to 350

    Returns
    -------
    Cost, gross. [mL/kg/min]

    Raises
    ------
    OutOfRange : the power or body mass is impossible.
    """
    CYCLE_W.check(power_w)
    WEIGHT_KG.check(weight_kg)
    rate = power_w * KGM_PER_MIN_PER_W
    vo2 = 3.0 * rate / weight_kg + RESTING_VO2
    return Cost(vo2, ARM_RANGE[0] <= rate <= ARM_RANGE[1], "ACSM arm ergometer")


def stepping(steps_per_minute: float, height_cm: float) -> Cost:
    """Bench or machine stepping: 0.2 f + 1.33 x 1.8 x H x f + 3.5, H in metres.

    Parameters
    ----------
    steps_per_minute : complete steps up and down. [/min], 5 to 60; validated 12 to 30
    height_cm : step height. [cm], 4 to 50; validated 4 to 40

    Returns
    -------
    Cost, gross. [mL/kg/min]

    Raises
    ------
    OutOfRange : the rate or height is impossible.

    References
    ----------
    ACSM stepping equation (coefficients and validated span from memory).
    """
    STEPS_PER_MINUTE.check(steps_per_minute)
    STEP_HEIGHT_CM.check(height_cm)
    rise = height_cm / 100 * steps_per_minute
    vo2 = 0.2 * steps_per_minute + 1.33 * 1.8 * rise + RESTING_VO2
    in_range = STEP_RATE_RANGE[0] <= steps_per_minute <= STEP_RATE_RANGE[1] and height_cm <= 40
    return Cost(vo2, in_range, "ACSM stepping")


def friend_treadmill(speed_kmh: float, grade: float = 0.0) -> Cost:
    """Peak uptake from the last setting of a maximal treadmill test: S (0.17 + 0.79 G) + 3.5.

    Parameters
    ----------
    speed_kmh : speed held to the end. [km/h], above 0, at most 25.2
    grade : slope as a fraction. [1], 0 to 0.30

    Returns
    -------
    Uptake. [mL/kg/min]

    Raises
    ------
    OutOfRange : the speed or grade is impossible, or the grade leads downhill.

    References
    ----------
    Kokkinos 2017, Am J Cardiol 120:688-692 (FRIEND).
    """
    speed = metres_per_minute_from_kmh(speed_kmh)
    _check_speed(speed)
    if not 0 <= grade <= TREADMILL_GRADE.high:
        raise OutOfRange(TREADMILL_GRADE.name, grade, 0, TREADMILL_GRADE.high, "as a fraction")
    return Cost(speed * (0.17 + 0.79 * grade) + RESTING_VO2, True, "FRIEND treadmill")


def friend_cycle(power_w: float, weight_kg: float) -> Cost:
    """Peak uptake from the last power of a maximal cycle test: 1.74 WR/M + 3.5, WR = 6.12 W.

    Parameters
    ----------
    power_w : power held to the end. [W], 0 to 600
    weight_kg : body mass. [kg], 25 to 350

    Returns
    -------
    Uptake. [mL/kg/min]

    Raises
    ------
    OutOfRange : the power or body mass is impossible.

    References
    ----------
    Kokkinos 2018, doi:10.1177/2047487318772667 (FRIEND); 1.76 is in circulation, the abstract says
    1.74.
    """
    CYCLE_W.check(power_w)
    WEIGHT_KG.check(weight_kg)
    vo2 = 1.74 * power_w * KGM_PER_MIN_PER_W / weight_kg + RESTING_VO2
    return Cost(vo2, True, "FRIEND cycle")


def treadmill(speed_kmh: float, grade: float = 0.0) -> Cost:
    """Cost of a treadmill setting: the walking equation up to 134 m/min (8.04 km/h), else running.

    Parameters
    ----------
    speed_kmh : speed. [km/h], above 0, at most 25.2
    grade : slope as a fraction. [1], -0.05 to 0.30

    Returns
    -------
    Cost, gross. [mL/kg/min]

    Raises
    ------
    OutOfRange : the grade or speed is impossible.
    """
    speed = metres_per_minute_from_kmh(speed_kmh)
    return running(speed, grade) if speed > RUN_FROM else walking(speed, grade)


def walking_speed_for(mets: float, grade: float = 0.0) -> float:
    """Treadmill speed that costs a number of METs at a grade, by the walking equation.

    Parameters
    ----------
    mets : work wanted. [METs], above 1
    grade : slope as a fraction. [1], -0.05 to 0.30

    Returns
    -------
    Speed. [km/h], not limited here: it may be too fast to walk

    Raises
    ------
    NotScorable : one MET or less needs no walking at all.
    OutOfRange : the grade is impossible.
    """
    TREADMILL_GRADE.check(grade)
    extra = RESTING_VO2 * mets - RESTING_VO2
    if extra <= 0:
        raise NotScorable("Walking costs more than 1 MET.")
    return kmh_from_metres_per_minute(extra / (0.1 + 1.8 * grade))


def grade_for(mets: float, speed_kmh: float) -> float:
    """Treadmill grade that costs a number of METs at a speed, by the walking equation.

    Parameters
    ----------
    mets : work wanted. [METs], no less than the speed costs on the level
    speed_kmh : speed. [km/h], above 0, at most 25.2

    Returns
    -------
    Slope as a fraction. [1], 0 to 0.30

    Raises
    ------
    NotScorable : the speed alone already costs more.
    OutOfRange : the grade would be steeper than 30 %, or the speed is impossible.
    """
    speed = metres_per_minute_from_kmh(speed_kmh)
    _check_speed(speed)
    grade = (RESTING_VO2 * mets - RESTING_VO2 - 0.1 * speed) / (1.8 * speed)
    if grade < 0:
        raise NotScorable(f"{speed_kmh:g} km/h on the level already costs more than {mets:g} METs.")
    return TREADMILL_GRADE.check(grade)


def leg_power_for(mets: float, weight_kg: float) -> float:
    """Cycle power that costs a number of METs.

    Parameters
    ----------
    mets : work wanted. [METs], above 2
    weight_kg : body mass. [kg], 25 to 350

    Returns
    -------
    Power. [W], not limited here

    Raises
    ------
    NotScorable : two METs are spent on unloaded pedalling.
    OutOfRange : the body mass is impossible.
    """
    WEIGHT_KG.check(weight_kg)
    extra = RESTING_VO2 * mets - 2 * RESTING_VO2
    if extra <= 0:
        raise NotScorable("Cycling costs more than 2 METs even unloaded.")
    return extra * weight_kg / (1.8 * KGM_PER_MIN_PER_W)


def running_speed_for(mets: float, grade: float = 0.0) -> float:
    """Treadmill speed that costs a number of METs at a grade, by the running equation.

    Parameters
    ----------
    mets : work wanted. [METs], above 1
    grade : slope as a fraction. [1], -0.05 to 0.30

    Returns
    -------
    Speed. [km/h], not limited here: it may be too slow to run

    Raises
    ------
    NotScorable : one MET or less needs no running at all.
    OutOfRange : the grade is impossible.
    """
    TREADMILL_GRADE.check(grade)
    extra = RESTING_VO2 * mets - RESTING_VO2
    if extra <= 0:
        raise NotScorable("Running costs more than 1 MET.")
    return kmh_from_metres_per_minute(extra / (0.2 + 0.9 * grade))


def arm_power_for(mets: float, weight_kg: float) -> float:
    """Arm power that costs a number of METs.

    Parameters
    ----------
    mets : work wanted. [METs], above 1
    weight_kg : body mass. [kg], 25 to 350

    Returns
    -------
    Power. [W], not limited here

    Raises
    ------
    NotScorable : one MET or less is rest.
    OutOfRange : the body mass is impossible.

    References
    ----------
    As ``arm_cycling``: coefficients from memory.
    """
    WEIGHT_KG.check(weight_kg)
    extra = RESTING_VO2 * mets - RESTING_VO2
    if extra <= 0:
        raise NotScorable("Arm cranking costs more than 1 MET.")
    return extra * weight_kg / (3.0 * KGM_PER_MIN_PER_W)


def step_rate_for(mets: float, height_cm: float) -> float:
    """Step cycles a minute that cost a number of METs at a step height.

    Parameters
    ----------
    mets : work wanted. [METs], above 1
    height_cm : step height. [cm], 4 to 50

    Returns
    -------
    Step cycles. [/min], not limited here

    Raises
    ------
    NotScorable : one MET or less is rest.
    OutOfRange : the height is impossible.

    References
    ----------
    As ``stepping``: coefficients from memory.
    """
    STEP_HEIGHT_CM.check(height_cm)
    extra = RESTING_VO2 * mets - RESTING_VO2
    if extra <= 0:
        raise NotScorable("Stepping costs more than 1 MET.")
    return extra / (0.2 + 1.33 * 1.8 * height_cm / 100)


def met_minutes(mets: float, minutes: float) -> float:
    """Dose of a bout: METs times minutes.

    Parameters
    ----------
    mets : cost. [METs], not limited here
    minutes : length. [min], 0 to 180

    Returns
    -------
    Dose. [MET-min]

    Raises
    ------
    OutOfRange : the minutes are impossible.
    """
    BOUT_MINUTES.check(minutes)
    return mets * minutes


def energy_kcal(mets: float, weight_kg: float, minutes: float) -> float:
    """Gross energy of a bout: METs x 3.5 x kg / 200 a minute, 5 kcal per litre of oxygen.

    Parameters
    ----------
    mets : cost. [METs], not limited here
    weight_kg : body mass. [kg], 25 to 350
    minutes : length. [min], 0 to 180

    Returns
    -------
    Energy. [kcal]

    Raises
    ------
    OutOfRange : the body mass or minutes are impossible.
    """
    WEIGHT_KG.check(weight_kg)
    BOUT_MINUTES.check(minutes)
    return mets * RESTING_VO2 * weight_kg / 200 * minutes


def met_band(mets: float) -> str:
    """Effort in words: light below 3, moderate from 3, vigorous from 6 METs.

    Parameters
    ----------
    mets : cost, unrounded. [METs], at least 0

    Returns
    -------
    "light", "moderate" or "vigorous".

    Raises
    ------
    IndexError : a cost below 0.
    """
    return [name for low, name in MET_BANDS if mets >= low][-1]


def _check_speed(speed_m_min: float) -> None:
    if not 0 < speed_m_min <= 420:
        raise OutOfRange("Speed", speed_m_min, 0, 420, "m/min")
