"""Every measure the program knows, in the order pages show them."""

from assessments.calc.activity_status import ACTIVITY_STATUS
from assessments.calc.anxiety import GAD7
from assessments.calc.balance import FOUR_STANCES, ONE_LEG
from assessments.calc.breathing_muscles import EXPIRATORY, INSPIRATORY
from assessments.calc.diet import DIET
from assessments.calc.exercise_test import (
    CHRONOTROPIC,
    PEAK_VO2,
    RATE_RECOVERY,
    VENTILATORY_SLOPE,
)
from assessments.calc.gait_speed import FAST_GAIT, GAIT_SPEED
from assessments.calc.glycaemia import HBA1C
from assessments.calc.kidney import KIDNEY
from assessments.calc.lifestyle import ACTIVITY, ADHERENCE, TOBACCO_USE
from assessments.calc.lipids import LIPIDS
from assessments.calc.measure import Measure
from assessments.calc.mood import PHQ9
from assessments.calc.peak_work import PEAK_WORK
from assessments.calc.physical_function import PHYSICAL_FUNCTION
from assessments.calc.shuttle_walk import SHUTTLE_WALK
from assessments.calc.sit_to_stand import FIVE_TIMES, THIRTY_SECONDS
from assessments.calc.six_minute_walk import SIX_MINUTE_WALK
from assessments.calc.stairs import STAIR_CLIMB
from assessments.calc.step_test import STEP_TEST
from assessments.calc.strength import GRIP, ONE_REPETITION
from assessments.calc.submaximal import CYCLE_STAGES, SINGLE_STAGE
from assessments.calc.up_and_go import UP_AND_GO
from assessments.calc.vitals import BLOOD_PRESSURE, BODY_SIZE, HEART_RATE, SATURATION, WAIST

RESTING = (HEART_RATE, BLOOD_PRESSURE, SATURATION, BODY_SIZE, WAIST)
ENDURANCE = (SIX_MINUTE_WALK, SHUTTLE_WALK, STEP_TEST, SINGLE_STAGE, CYCLE_STAGES)
EXERCISE_TEST = (PEAK_VO2, PEAK_WORK, VENTILATORY_SLOPE, CHRONOTROPIC, RATE_RECOVERY)
FUNCTION = (FIVE_TIMES, THIRTY_SECONDS, GAIT_SPEED, FAST_GAIT, UP_AND_GO, STAIR_CLIMB)
BALANCE_AND_STRENGTH = (FOUR_STANCES, ONE_LEG, GRIP, ONE_REPETITION)
BREATHING = (INSPIRATORY, EXPIRATORY)
ASKED = (PHQ9, GAD7, ACTIVITY_STATUS, PHYSICAL_FUNCTION, DIET, ACTIVITY, TOBACCO_USE, ADHERENCE)
LABORATORY = (LIPIDS, HBA1C, KIDNEY)
MEASURES: tuple[Measure, ...] = (
    *RESTING,
    *ENDURANCE,
    *EXERCISE_TEST,
    *FUNCTION,
    *BALANCE_AND_STRENGTH,
    *BREATHING,
    *ASKED,
    *LABORATORY,
)
BY_KEY: dict[str, Measure] = {measure.key: measure for measure in MEASURES}

# What each kind of assessment proposes; more may always be added.
FORMAL = tuple(
    measure.key
    for measure in (
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
)
INFORMAL = (HEART_RATE.key, BLOOD_PRESSURE.key, BODY_SIZE.key)
PROPOSED: dict[str, tuple[str, ...]] = {
    "baseline": FORMAL,
    "informal": INFORMAL,
    "six_weeks": FORMAL,
    "exit": FORMAL,
}
