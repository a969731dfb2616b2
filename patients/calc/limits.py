"""Words every other calculation uses: input limits and the two ways to refuse.

The limits are a project choice, wide enough for any living outpatient (hard) and for nearly every
one (soft); no standard prescribes them.
"""

from dataclasses import dataclass


class OutOfRange(ValueError):
    """An input that cannot be right; carries its name, value and limits."""

    def __init__(self, name: str, value: float, low: float, high: float, unit: str = "") -> None:
        self.name, self.value, self.low, self.high, self.unit = name, value, low, high, unit
        suffix = f" {unit}" if unit and unit != "%" else unit
        super().__init__(f"{name} {value:g} is outside {low:g} to {high:g}{suffix}.")


class NotScorable(ValueError):
    """Inputs that are each possible but together give no answer; carries the reason."""


@dataclass(frozen=True)
class Limit:
    """Limits of one measured quantity.

    Outside ``low``..``high`` a value is impossible and refused; outside
    ``soft_low``..``soft_high`` it is unusual, and the person typing is asked "is that right?".
    """

    name: str
    unit: str
    low: float
    high: float
    soft_low: float | None = None
    soft_high: float | None = None

    def check(self, value: float) -> float:
        """The value unchanged, or a refusal when it is impossible.

        Parameters
        ----------
        value : what was measured. [the limit's unit], ``low`` to ``high``, both included

        Returns
        -------
        The same value. [the limit's unit]

        Raises
        ------
        OutOfRange : the value lies outside the hard limits or is NaN.
        """
        if not self.low <= value <= self.high:  # also refuses NaN
            raise OutOfRange(self.name, value, self.low, self.high, self.unit)
        return value

    def is_unusual(self, value: float) -> bool:
        """Whether a value lies outside the usual span, so that it is asked about.

        Parameters
        ----------
        value : what was measured. [the limit's unit], ``low`` to ``high``

        Returns
        -------
        True below ``soft_low`` or above ``soft_high``; a soft limit of None asks nothing.
        """
        return (self.soft_low is not None and value < self.soft_low) or (
            self.soft_high is not None and value > self.soft_high
        )


# Hard limits, then soft ones.
AGE_YEARS = Limit("Age", "years", 0, 126, 18, 110)  # nobody is refused for an age
HEIGHT_CM = Limit("Height", "cm", 100, 250, 140, 210)
WEIGHT_KG = Limit("Weight", "kg", 25, 350, 40, 200)
HEART_RATE_BPM = Limit("Heart rate", "/min", 20, 250, 40, 200)
SYSTOLIC_MMHG = Limit("Systolic pressure", "mmHg", 50, 300, 80, 220)
DIASTOLIC_MMHG = Limit("Diastolic pressure", "mmHg", 20, 200, 40, 130)
SPO2_PERCENT = Limit("Oxygen saturation", "%", 50, 100, 85, 100)
GLUCOSE_MGDL = Limit("Glucose", "mg/dL", 10, 1000, 50, 400)
RPE = Limit("Perceived exertion", "on the 6–20 scale", 6, 20)
LVEF_PERCENT = Limit("LVEF", "%", 5, 85, 15, 75)
SIX_MINUTE_WALK_M = Limit("Six-minute walk distance", "m", 0, 1000, 50, 800)
GAIT_COURSE_M = Limit("Timed course", "m", 2, 20, 4, 10)
GAIT_TIME_S = Limit("Walking time", "s", 0.5, 120, 2, 30)
SIT_TO_STAND_S = Limit("Five-times sit-to-stand", "s", 1, 300, 4, 60)
CHAIR_STANDS = Limit("Stands in 30 seconds", "stands", 0, 60, 4, 30)
TREADMILL_GRADE = Limit("Treadmill grade", "as a fraction", -0.05, 0.30, 0, 0.20)
GRADE_PERCENT = Limit("Treadmill grade", "%", -5, 30, 0, 20)  # the same, as forms ask for it
TREADMILL_KMH = Limit("Treadmill speed", "km/h", 0, 25, 1, 12)
CYCLE_W = Limit("Cycle power", "W", 0, 600, 10, 250)
BOUT_MINUTES = Limit("Minutes", "min", 0, 180, 1, 60)
SESSION_MINUTES = Limit("Session minutes", "min", 0, 300, 15, 120)
QRS_MS = Limit("QRS duration", "ms", 40, 300, 60, 200)
TEMPERATURE_C = Limit("Temperature", "°C", 30, 43, 35, 39)
ANGINA_GRADE = Limit("Angina", "grade 0 to 4", 0, 4)
DYSPNOEA_GRADE = Limit("Dyspnea", "grade 0 to 4", 0, 4)
# One up and down again is one step cycle, which the stepping equation counts, not each foot.
STEPS_PER_MINUTE = Limit("Step cycles", "/min", 5, 60, 10, 40)
STEP_HEIGHT_CM = Limit("Step height", "cm", 4, 50, 10, 35)
SETS = Limit("Sets", "sets", 1, 10, 1, 4)
REPETITIONS = Limit("Repetitions", "times", 1, 60, 4, 25)
IN_RESERVE = Limit("Repetitions in reserve", "times", 0, 30, 0, 10)
LOAD_KG = Limit("Load", "kg", 0, 500, 0.5, 200)  # a leg press carries more than a person lifts
SHOWN_METS = Limit("METs shown by the machine", "METs", 1, 20, 1.5, 10)
RUN_BEATS = Limit("Beats in a run", "beats", 3, 500, 3, 60)
ST_MM = Limit("ST change", "mm", 0, 10, 0, 5)
CARBOHYDRATE_G = Limit("Carbohydrate", "g", 1, 120, 10, 40)
HOME_MINUTES = Limit("Minutes at home", "min", 0, 3000, 0, 900)
HOME_STEPS = Limit("Steps a day", "steps", 0, 60000, 200, 25000)
PVC_PER_MINUTE = Limit("PVCs per minute", "/min", 0, 200, 0, 60)
SHUTTLE_LEVEL = Limit("Shuttle walk level", "", 1, 12)
SHUTTLES = Limit("Shuttles completed in the level", "", 0, 14)
STEPS_IN_2_MINUTES = Limit("Steps in two minutes", "steps", 0, 300, 30, 160)
UP_AND_GO_S = Limit("Up and go", "s", 1, 300, 4, 60)
STAIRS_S = Limit("Stair climb", "s", 1, 300, 4, 60)
STAIR_STEPS = Limit("Stair steps", "steps", 2, 60, 4, 30)
RISER_CM = Limit("Height of a stair", "cm", 8, 30, 14, 21)
STANCE_STAGE_S = Limit("Stance", "s", 0, 10)
SINGLE_LEG_S = Limit("Single-leg stance", "s", 0, 60, 0, 45)
GRIP_KG = Limit("Grip", "kg", 0, 120, 5, 80)
MOUTH_PRESSURE_CMH2O = Limit("Mouth pressure", "cmH₂O", 1, 300, 20, 200)
VO2_ML_KG_MIN = Limit("Oxygen uptake", "mL/kg/min", 3, 90, 6, 60)
VO2_ML_MIN = Limit("Oxygen uptake", "mL/min", 200, 7000, 500, 5000)
RER_RATIO = Limit("Respiratory exchange ratio", "", 0.6, 1.8, 0.85, 1.4)
VE_VCO2 = Limit("VE/VCO₂ slope", "", 10, 120, 18, 70)
WAIST_CM = Limit("Waist", "cm", 40, 220, 60, 160)
CREATININE_MGDL = Limit("Creatinine", "mg/dL", 0.2, 20, 0.4, 5)
TOTAL_CHOLESTEROL_MGDL = Limit("Total cholesterol", "mg/dL", 30, 800, 80, 400)
HDL_MGDL = Limit("HDL cholesterol", "mg/dL", 5, 200, 20, 120)
# From 5: newer medicines bring people below 30, and 5 mmol/L typed as mg/dL is still asked about.
LDL_MGDL = Limit("LDL cholesterol", "mg/dL", 5, 800, 15, 300)
TRIGLYCERIDES_MGDL = Limit("Triglycerides", "mg/dL", 10, 5000, 30, 800)
HBA1C_PERCENT = Limit("HbA1c", "%", 3, 20, 4, 14)
MINUTES_A_WEEK = Limit("Minutes a week", "min", 0, 5000, 0, 1500)
# Below an ICD's lowest detection rate an upper heart rate stays this far: the least, which a
# prescription begins with, and the most in use (from memory).
ICD_MARGINS_IN_USE = (10, 20)  # [/min]


def check_pressure(systolic: float, diastolic: float) -> None:
    """Refuse an impossible blood pressure.

    Parameters
    ----------
    systolic : upper pressure. [mmHg], 50 to 300, above the diastolic
    diastolic : lower pressure. [mmHg], 20 to 200

    Raises
    ------
    OutOfRange : a pressure lies outside its limits.
    NotScorable : systolic is not above diastolic.
    """
    SYSTOLIC_MMHG.check(systolic)
    DIASTOLIC_MMHG.check(diastolic)
    if systolic <= diastolic:
        raise NotScorable(
            f"Systolic {systolic:g} must be above diastolic {diastolic:g}; check the order."
        )
