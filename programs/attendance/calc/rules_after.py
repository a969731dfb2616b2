"""In recovery: who should not leave yet (R).

No published list gives limits for leaving; these are common practice, with the numbers of the
lists at rest where there are any. A hold here means: stays until a clinician has looked. Until
something is measured in recovery, the value straight after exercise stands for it.
"""

from collections.abc import Callable

from patients.calc.limits import Limit
from programs.attendance.calc.derived import (
    beats_below_detection,
    fall_after_exercise_mmhg,
    once_over,
    rate_above_rest_bpm,
)
from programs.attendance.calc.levels import Level, Phase
from programs.attendance.calc.questions import ASKED_AFTER
from programs.attendance.calc.rules import Rule
from programs.attendance.calc.rules_before import (
    DETECTION_BOUNDS,
    DEVICE_SOURCE,
    DIASTOLIC_BOUNDS,
    FALL_BOUNDS,
    LOW_SYSTOLIC_BOUNDS,
    RATE_BOUNDS,
    SPO2_BOUNDS,
    SYSTOLIC_BOUNDS,
    rule_of,
)
from programs.attendance.calc.situation import Situation
from programs.enrolment.calc import resting_limits as at
from programs.prescription.calc.intensity import ICD_MARGIN_BPM

A, HOLD, CAUTION = Phase.AFTER, Level.HOLD, Level.CAUTION
SETTLED_WITHIN_BPM = 20  # of the rate before exercise
ABOVE_REST_BOUNDS = Limit("Heart rate above rest before leaving", "/min", 5, 40)
ANGINA_AFTER_BOUNDS = Limit("Angina grade", "of 4", 1, 1)


def _dizzy(s: Situation) -> bool | None:
    return s.answers.get("after_dizzy")


def _last(name: str) -> Callable[[Situation], float | None]:
    def read(s: Situation) -> float | None:
        return once_over(s, name)

    return read


def _device_after(s: Situation) -> float | None:
    return beats_below_detection(s, once_over(s, "heart_rate_bpm"))


def _recovery(name: str) -> Callable[[Situation], object | None]:
    def read(s: Situation) -> object | None:
        found: object | None = getattr(s.recovery, name)
        return found

    return read


AFTER: tuple[Rule, ...] = (
    Rule("R-01", A, HOLD, _last("systolic_mmhg"), "<", at.SYSTOLIC_LOW_BELOW,
         "Systolic {value:g} after exercise is below {limit:g}.", at.PRACTICE,
         "blood pressure in recovery", wants=_recovery("systolic_mmhg"),
         bounds=LOW_SYSTOLIC_BOUNDS, vital="systolic_mmhg"),
    Rule("R-02", A, HOLD, fall_after_exercise_mmhg, ">=", at.ORTHOSTATIC_FALL_MMHG,
         "Systolic is {value:g} below the pressure before exercise, with dizziness.",
         at.PRACTICE, "", _dizzy, bounds=FALL_BOUNDS, vital="systolic_mmhg",
         asks_whether="dizziness in recovery"),
    Rule("R-02", A, CAUTION, fall_after_exercise_mmhg, ">=", at.ORTHOSTATIC_FALL_MMHG,
         "Systolic is {value:g} below the pressure before exercise; the limit is {limit:g}.",
         at.PRACTICE, "", bounds=FALL_BOUNDS, vital="systolic_mmhg"),
    Rule("R-03", A, HOLD, _last("heart_rate_bpm"), ">", at.HEART_RATE_HOLD_ABOVE,
         "Heart rate {value:g} after exercise is above {limit:g}.", at.PRACTICE,
         "heart rate in recovery", wants=_recovery("heart_rate_bpm"), of="rate",
         bounds=RATE_BOUNDS, vital="heart_rate_bpm"),
    Rule("R-03", A, CAUTION, rate_above_rest_bpm, ">", SETTLED_WITHIN_BPM,
         "Heart rate is still {value:g} above the rate before exercise; the limit is {limit:g}.",
         at.PRACTICE, "", of="settled", bounds=ABOVE_REST_BOUNDS, vital="heart_rate_bpm"),
    Rule("R-04", A, HOLD, _last("systolic_mmhg"), ">", at.SYSTOLIC_HOLD_ABOVE,
         "Systolic {value:g} after exercise is above {limit:g}.", at.PRACTICE, "",
         of="systolic", bounds=SYSTOLIC_BOUNDS, vital="systolic_mmhg"),
    Rule("R-04", A, HOLD, _last("diastolic_mmhg"), ">", at.DIASTOLIC_HOLD_ABOVE,
         "Diastolic {value:g} after exercise is above {limit:g}.", at.PRACTICE, "",
         of="diastolic", bounds=DIASTOLIC_BOUNDS, vital="diastolic_mmhg"),
    Rule("R-05", A, HOLD, _last("spo2_percent"), "<", at.SPO2_HOLD_BELOW,
         "Oxygen saturation {value:g} % after exercise is below {limit:g} %.", at.PRACTICE, "",
         bounds=SPO2_BOUNDS, vital="spo2_percent"),
    Rule("H-08", A, HOLD, _device_after, "<", ICD_MARGIN_BPM,
         "Heart rate after exercise is {value:g} beats below the device’s detection rate; the "
         "least is {limit:g}.", DEVICE_SOURCE, "", of="after", bounds=DETECTION_BOUNDS,
         vital="heart_rate_bpm"),
    Rule("R-06", A, HOLD, lambda s: s.recovery.angina, ">=", 1,
         "Angina grade {value:g} in recovery: stays until a clinician has seen it.",
         at.PRACTICE, "", of="angina", bounds=ANGINA_AFTER_BOUNDS),
    *[rule_of(q, asks_for="symptoms in recovery") for q in ASKED_AFTER],
)  # fmt: skip
