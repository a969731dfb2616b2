"""Glucose before and after exercise (G). Limits stand in mg/dL and in mmol/L as published."""

from patients.calc.limits import Limit
from programs.attendance.calc.derived import (
    glucose_with_some_ketones,
    glucose_without_ketones,
    ketone_rank,
    last_glucose,
)
from programs.attendance.calc.levels import Level, Phase
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.questions import TYPE_1_CONSENSUS
from programs.attendance.calc.rules import Rule
from programs.attendance.calc.situation import Situation

B, D, A = Phase.BEFORE, Phase.DURING, Phase.AFTER
STOP, HOLD, CAUTION, NOTE = Level.STOP, Level.HOLD, Level.CAUTION, Level.NOTE
COLBERG = "Colberg 2016, Diabetes Care 39:2065, Table 1, doi:10.2337/dc16-1728"
ADA = "American Diabetes Association 2017, Diabetes Care 40(Suppl 1), Table 6.3"
LONG_SOURCE = "Zaharieva & Riddell, Diabetes Spectrum, Table 1; Turner 2019"
OLDER_RULE = "ADA/ACSM general guidelines (older rule)"
ASKED_IN_DIABETES = "glucose, asked for because of diabetes"
ASKED_GLUCOSE = "glucose, asked for because insulin or a secretagogue is listed"
LEVEL_1_BELOW, LEVEL_2_BELOW = 70, 54  # mg/dL
SEVERE_BELOW_MMOLL = 2.9
SEVERE_BELOW = 52.2  # mg/dL; 2.9 mmol/L is about 52
FLOOR = 90
LONG_EXERCISE_MINUTES = 30  # rechecked every 30 to 45 minutes: first at the earlier end,
RECHECK_WITHIN_MINUTES = 45  # again at the later one
LOW_BOUNDS = Limit("Low glucose", "mg/dL", 60, 80)
VERY_LOW_BOUNDS = Limit("Level 2 low", "mg/dL", 50, 60)
FLOOR_BOUNDS = Limit("Glucose before exercise, at least", "mg/dL", 80, 110)
CARBOHYDRATE_BOUNDS = Limit("Carbohydrate from the start, below", "mg/dL", 120, 180)
HIGH_BOUNDS = Limit("High glucose", "mg/dL", 200, 300)
VERY_HIGH_BOUNDS = Limit("Very high glucose", "mg/dL", 250, 400)


def level_of_low(mgdl: Glucose, *, needed_help: bool = False) -> int:
    """Level of a low glucose.

    Parameters
    ----------
    mgdl : glucose, compared in the unit of its meter. [mg/dL], not limited here
    needed_help : whether another person had to help.

    Returns
    -------
    Level: 3 with help, at any value; 2 below 54 mg/dL or 3.0 mmol/L; 1 below 70 or 3.9; else 0.

    References
    ----------
    As rules G-01 to G-03; whether exactly 70 is a low is from memory.
    """
    if needed_help:
        return 3
    value, first, second = (
        (mgdl.mmoll, 3.9, 3.0) if mgdl.is_mmoll else (float(mgdl), LEVEL_1_BELOW, LEVEL_2_BELOW)
    )
    return 2 if value < second else 1 if value < first else 0


def _insulin(s: Situation) -> bool:
    return s.known.uses_insulin


def _others(s: Situation) -> bool:
    return not s.known.uses_insulin


def is_severe(mgdl: Glucose) -> bool:
    """Whether a glucose bars exercise for 24 hours.

    Parameters
    ----------
    mgdl : glucose, compared in the unit of its meter. [mg/dL], not limited here

    Returns
    -------
    True below 2.9 mmol/L, about 52 mg/dL.

    References
    ----------
    As rule G-06.
    """
    return mgdl.mmoll < SEVERE_BELOW_MMOLL if mgdl.is_mmoll else float(mgdl) < SEVERE_BELOW


def _treated_low(s: Situation) -> float | None:
    """1 when there was a low within 24 hours, not a severe one, that is over now."""
    lowest, now = s.lowest_glucose_24h, s.before.glucose
    if lowest is None or now is None:
        return None
    was_low = level_of_low(lowest) > 0 and not is_severe(lowest)
    return float(was_low and level_of_low(now) == 0)


def _masked(s: Situation) -> float | None:
    if s.lowest_glucose_24h is None:
        return None
    return float(level_of_low(s.lowest_glucose_24h) > 0)


def _long(s: Situation) -> bool:
    """Long enough for glucose to fall, by minutes noted or by the clock."""
    minutes = max(s.minutes_exercised, s.minutes_running)
    return s.known.uses_insulin and minutes >= LONG_EXERCISE_MINUTES


def _fresh_in_exercise(s: Situation) -> Glucose | None:
    """Glucose in exercise while it is recent enough."""
    since = s.minutes_since_glucose
    is_old = since is not None and since >= RECHECK_WITHIN_MINUTES
    return None if is_old else last_glucose(s)


def _above_a_low_in_exercise(s: Situation) -> Glucose | None:
    """Glucose in exercise that is no low: a low has its own stop."""
    glucose = s.during.glucose
    return None if glucose is None or level_of_low(glucose) else glucose


def _diabetic(s: Situation) -> bool:
    return s.known.has_diabetes


GLUCOSE: tuple[Rule, ...] = (
    Rule("G-02", B, HOLD, lambda s: s.lowest_glucose_before, "<", LEVEL_2_BELOW,
         "Glucose was {value}, below {limit}, a level 2 low: treat now. A good recheck does not "
         "settle it; somebody who may decides.", ADA, "", bounds=VERY_LOW_BOUNDS, mmoll=3.0),
    Rule("G-02", D, STOP, lambda s: s.lowest_glucose_since_start, "<", LEVEL_2_BELOW,
         "Glucose was {value} since exercise began, below {limit}, a level 2 low: stop and treat "
         "now. A good recheck does not settle it; somebody who may decides.", ADA, "",
         of="during", bounds=VERY_LOW_BOUNDS, mmoll=3.0),
    Rule("G-01", D, STOP, lambda s: s.during.glucose, "<", LEVEL_1_BELOW,
         "Glucose {value} in exercise is below {limit}, a low: stop, treat and recheck.",
         f"{ADA}; exactly 70 from memory", "", of="during", bounds=LOW_BOUNDS, mmoll=3.9),
    Rule("G-09", D, CAUTION, _above_a_low_in_exercise, "<", FLOOR,
         "Glucose {value} in exercise is below {limit}: carbohydrate, and recheck.",
         LONG_SOURCE, "glucose in exercise, every 30 to 45 minutes", asks_when=_long,
         applies=_insulin, wants=_fresh_in_exercise, of="during", bounds=FLOOR_BOUNDS, mmoll=5.0),
    Rule("G-01", B, HOLD, lambda s: s.before.glucose, "<", LEVEL_1_BELOW,
         "Glucose {value} is below {limit}, a low: treat and recheck before exercise.",
         f"{ADA}; exactly 70 from memory", "", bounds=LOW_BOUNDS, mmoll=3.9,
         vital="glucose_mgdl"),
    Rule("G-06", B, HOLD, lambda s: s.lowest_glucose_24h, "<", SEVERE_BELOW,
         "Glucose was {value} within 24 hours, below {limit}: no exercise today, even if it is "
         "fine now.", TYPE_1_CONSENSUS, "", mmoll=SEVERE_BELOW_MMOLL),
    Rule("G-06", B, HOLD, lambda s: float(s.known.needed_help_24h), ">=", 1,
         "A low within 24 hours needed another person’s help, or was recorded as an event: no "
         "exercise today.", TYPE_1_CONSENSUS, "", of="help"),
    Rule("G-07", B, NOTE, _treated_low, ">=", 1,
         "A low was treated within 24 hours: no risky or solitary activity afterwards.",
         TYPE_1_CONSENSUS, ""),
    Rule("G-mask", B, NOTE, _masked, ">=", 1,
         "Takes a beta-blocker: a low may not be felt; go by the meter.", "from memory", "",
         lambda s: s.known.has_beta_blocker),
    Rule("G-05", B, HOLD, glucose_with_some_ketones, ">=", 350,
         "Glucose {value} has reached {limit} in somebody on insulin or a secretagogue: test "
         "ketones; a clinician decides, and no intense effort.", COLBERG, ASKED_GLUCOSE, _insulin,
         of="high", bounds=VERY_HIGH_BOUNDS, mmoll=19.4, vital="glucose_mgdl",
         needs_clinician=True),
    Rule("G-05", B, CAUTION, lambda s: s.before.glucose, ">=", 350,
         "Glucose {value} has reached {limit}: no intense effort; the prescriber may correct it.",
         COLBERG, "", _insulin, of="high", bounds=VERY_HIGH_BOUNDS, mmoll=19.4),
    Rule("G-05", B, CAUTION, lambda s: s.before.glucose, ">=", 250,
         "Glucose {value} has reached {limit}: mild to moderate effort only.",
         COLBERG, "", _insulin, of="raised", bounds=HIGH_BOUNDS, mmoll=13.9),
    Rule("G-05", B, HOLD, glucose_without_ketones, ">=", 250,
         "Glucose {value} has reached {limit} in somebody on insulin or a secretagogue: test "
         "ketones before exercise.", COLBERG, "", _insulin, of="untested", bounds=HIGH_BOUNDS,
         mmoll=13.9, vital="glucose_mgdl"),
    Rule("G-05", B, HOLD, ketone_rank, ">=", 2,
         "Ketones are moderate or large: no exercise; a clinician decides.", COLBERG, "",
         of="ketones"),
    Rule("G-08", B, CAUTION, lambda s: s.before.glucose, ">", 300,
         "Glucose {value} is above {limit}: exercise with caution, and only if well.",
         OLDER_RULE, "", _others, bounds=VERY_HIGH_BOUNDS, mmoll=16.7),
    Rule("G-05", B, HOLD, lambda s: s.before.glucose, "<", FLOOR,
         "Glucose {value} is below {limit} in somebody on insulin or a secretagogue: 15 to 30 g "
         "carbohydrate first, then recheck.", COLBERG, ASKED_GLUCOSE, _insulin,
         bounds=FLOOR_BOUNDS, mmoll=5.0, vital="glucose_mgdl", needs_clinician=True),
    Rule("G-05", B, CAUTION, lambda s: s.before.glucose, "<", FLOOR,
         "Glucose {value} is below {limit}.", "from memory for people without insulin",
         ASKED_IN_DIABETES, _others, asks_when=_diabetic, bounds=FLOOR_BOUNDS, mmoll=5.0),
    Rule("G-05", B, NOTE, lambda s: s.before.glucose, "<", 150,
         "Glucose {value} is below {limit}: carbohydrate from the start of most exercise.",
         COLBERG, "", _insulin, bounds=CARBOHYDRATE_BOUNDS, mmoll=8.3),
    Rule("G-09", A, HOLD, last_glucose, "<", LEVEL_1_BELOW,
         "Glucose {value} after exercise is below {limit}, a low: treat and recheck before "
         "leaving.", ADA, "glucose after exercise", asks_when=_long, bounds=LOW_BOUNDS,
         mmoll=3.9, vital="glucose_mgdl"),
    Rule("G-09", A, CAUTION, last_glucose, "<", FLOOR,
         "Glucose {value} after exercise is below {limit}: carbohydrate, and late lows are "
         "possible for 24 hours.",
         LONG_SOURCE, "", _insulin,
         bounds=FLOOR_BOUNDS, mmoll=5.0),
)  # fmt: skip
