"""Every measure the program knows, in the order pages show them."""

from assessments.calc.gait_speed import GAIT_SPEED
from assessments.calc.measure import Measure
from assessments.calc.mood import PHQ9
from assessments.calc.sit_to_stand import FIVE_TIMES, THIRTY_SECONDS
from assessments.calc.six_minute_walk import SIX_MINUTE_WALK
from assessments.calc.vitals import BLOOD_PRESSURE, BODY_SIZE, HEART_RATE, SATURATION

MEASURES: tuple[Measure, ...] = (
    HEART_RATE,
    BLOOD_PRESSURE,
    SATURATION,
    BODY_SIZE,
    SIX_MINUTE_WALK,
    FIVE_TIMES,
    THIRTY_SECONDS,
    GAIT_SPEED,
    PHQ9,
)
BY_KEY: dict[str, Measure] = {measure.key: measure for measure in MEASURES}

# What each kind of assessment proposes; more may always be added.
FORMAL = tuple(measure.key for measure in MEASURES)
INFORMAL = (HEART_RATE.key, BLOOD_PRESSURE.key, BODY_SIZE.key)
PROPOSED: dict[str, tuple[str, ...]] = {
    "baseline": FORMAL,
    "informal": INFORMAL,
    "six_weeks": FORMAL,
    "exit": FORMAL,
}
