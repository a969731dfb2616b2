"""In exercise: who must stop now (F). F-20 to F-24 are local telemetry thresholds."""

from collections.abc import Callable
from dataclasses import replace

from patients.calc.limits import Limit
from programs.attendance.calc.derived import (
    beats_above_limit,
    beats_below_detection,
    every_fall_known,
    spo2_fall_points,
    systolic_fall_mmhg,
    systolic_rise_mmhg,
    yes_is_one,
)
from programs.attendance.calc.levels import Level, Phase
from programs.attendance.calc.questions import (
    CARDIOPULMONARY_LIST,
    SEEN_DURING,
    TERMINATION_TABLES,
)
from programs.attendance.calc.rhythm import (
    STOPPING,
    st_depression_mm,
    st_elevation_mm,
    widened_qrs_ms,
)
from programs.attendance.calc.rules import Rule
from programs.attendance.calc.rules_before import DETECTION_BOUNDS, DEVICE_SOURCE, rule_of
from programs.attendance.calc.situation import Situation
from programs.enrolment.calc import resting_limits as at
from programs.prescription.calc.intensity import ICD_MARGIN_BPM

D, STOP, CAUTION = Phase.DURING, Level.STOP, Level.CAUTION
TERMINATION_LIST = "J Sports Sci Med suppl. 7, Table 7 (fall of 10 or more, or failure to rise)"
WHETHER_SIGNS = "angina, dyspnea and signs in exercise"
PRACTICE_ECG = "local telemetry threshold; common practice, no source"
HOW_HIGH = "blood pressure during exercise"
GRADE_MEMORY = f"{TERMINATION_TABLES}; grade from memory"
# Within these a site may set a limit of its own (project choice).
FALL_BOUNDS = Limit("Systolic fall with rising load", "mmHg", 5, 20)
CEILING_BOUNDS = Limit("Systolic in exercise", "mmHg", 180, 260)
LOWER_CEILING_BOUNDS = Limit("Diastolic in exercise", "mmHg", 95, 125)
ST_BOUNDS = Limit("ST change", "mm", 0.5, 2.0)
SPO2_BOUNDS = Limit("Saturation in exercise", "%", 80, 94)
SPO2_FALL_BOUNDS = Limit("Fall in saturation", "points", 4, 10)
ANGINA_BOUNDS = Limit("Angina grade", "of 4", 1, 3)
DYSPNOEA_BOUNDS = Limit("Dyspnea grade", "of 4", 2, 4)
QRS_BOUNDS = Limit("QRS in exercise", "ms", 100, 140)
PVC_BOUNDS = Limit("PVCs per minute", "/min", 1, 12)


def _watched(s: Situation) -> bool:
    """What the monitor would show is asked for unless somebody said there was none."""
    return s.sheet.has_ecg is not False


def _of(name: str) -> Callable[[Situation], float | None]:
    def read(s: Situation) -> float | None:
        value: float | None = getattr(s.last_load, name)
        return value

    return read


def _rhythm_is(codes: frozenset[str]) -> Callable[[Situation], float | None]:
    def read(s: Situation) -> float | None:
        return float(s.rhythm.during in codes) if s.rhythm.during else None

    return read


def _block_is(code: str) -> Callable[[Situation], float | None]:
    def read(s: Situation) -> float | None:
        return float(s.rhythm.new_block == code) if s.rhythm.new_block else None

    return read


def _has_signs(s: Situation) -> bool | None:
    return s.has_signs


def _run_beats(s: Situation) -> float | None:
    beats = s.rhythm.run_beats
    return float(beats) if beats is not None else 0.0 if s.rhythm.has_run is False else None


UNDER_LOAD = (
    Rule("F-01", D, STOP, systolic_fall_mmhg, ">=", 10,
         "Systolic pressure fell by {value:g} as the load rose; the limit is {limit:g}.",
         TERMINATION_LIST, "blood pressure during exercise and the load of each",
         wants=every_fall_known, bounds=FALL_BOUNDS),
    Rule("F-01", D, CAUTION, systolic_rise_mmhg, "<", 1,
         "Systolic pressure did not rise with the load: it changed by {value:+g}.",
         TERMINATION_LIST, ""),
    Rule("F-02", D, STOP, _of("systolic_mmhg"), ">", 250,
         "Systolic {value:g} during exercise is above {limit:g}.", TERMINATION_TABLES, HOW_HIGH,
         of="systolic", bounds=CEILING_BOUNDS),
    Rule("F-02", D, CAUTION, _of("systolic_mmhg"), ">=", 220,
         "Systolic {value:g} during exercise has reached {limit:g}.", at.PRACTICE, "",
         of="systolic", bounds=CEILING_BOUNDS),
    Rule("F-02", D, STOP, _of("diastolic_mmhg"), ">", 115,
         "Diastolic {value:g} during exercise is above {limit:g}.", TERMINATION_TABLES, HOW_HIGH,
         of="diastolic", bounds=LOWER_CEILING_BOUNDS),
    Rule("F-02", D, CAUTION, _of("diastolic_mmhg"), ">=", 110,
         "Diastolic {value:g} during exercise has reached {limit:g}.", at.PRACTICE, "",
         of="diastolic", bounds=LOWER_CEILING_BOUNDS),
    Rule("F-09", D, STOP, _of("angina"), ">=", 2,
         "Angina grade {value:g}; from grade {limit:g} stop.", GRADE_MEMORY,
         "angina in exercise (0 is none)", bounds=ANGINA_BOUNDS),
    Rule("F-09", D, CAUTION, _of("angina"), ">=", 1,
         "Mild angina, grade {value:g}: is it new? Lower the load and tell a clinician.",
         GRADE_MEMORY, "", bounds=ANGINA_BOUNDS),
    Rule("F-11", D, STOP, _of("dyspnoea"), ">=", 3,
         "Dyspnea grade {value:g}; from grade {limit:g} stop.", GRADE_MEMORY,
         "dyspnea in exercise (0 is none)", of="grade", bounds=DYSPNOEA_BOUNDS),
    Rule("F-12", D, STOP, _of("spo2_percent"), "<", 88,
         "Oxygen saturation {value:g} % in exercise is below {limit:g} %.",
         f"{CARDIOPULMONARY_LIST} (90 with symptoms); 88 from memory",
         "oxygen saturation in exercise", bounds=SPO2_BOUNDS),
    Rule("F-12", D, CAUTION, _of("spo2_percent"), "<", 90,
         "Oxygen saturation {value:g} % in exercise is below {limit:g} %.",
         CARDIOPULMONARY_LIST, "", bounds=SPO2_BOUNDS),
    Rule("F-12", D, STOP, _of("spo2_percent"), "<", 90,
         "Oxygen saturation {value:g} % in exercise is below {limit:g} %, with symptoms.",
         CARDIOPULMONARY_LIST, "", _has_signs, of="symptoms", bounds=SPO2_BOUNDS,
         asks_whether=WHETHER_SIGNS),
    Rule("F-12", D, STOP, spo2_fall_points, ">=", 10,
         "Oxygen saturation fell by {value:g} points, with symptoms; the limit is {limit:g}.",
         CARDIOPULMONARY_LIST, "", _has_signs, of="fall", bounds=SPO2_FALL_BOUNDS,
         asks_whether=WHETHER_SIGNS),
    Rule("H-08", D, CAUTION, beats_above_limit, ">", 0,
         "Heart rate is {value:g} beats above this person’s own upper limit: lower the load.",
         "prescription; margins from memory", "heart rate in exercise",
         lambda s: s.known.upper_limit_bpm is not None),
    Rule("H-08", D, STOP, lambda s: beats_below_detection(s, s.last_load.heart_rate_bpm), "<",
         ICD_MARGIN_BPM,
         "Heart rate is {value:g} beats below the device’s detection rate; the least is {limit:g}.",
         DEVICE_SOURCE, "heart rate in exercise", lambda s: s.known.detection_bpm is not None,
         of="device", bounds=DETECTION_BOUNDS),
)  # fmt: skip
ON_THE_MONITOR = (
    Rule("F-03", D, STOP, lambda s: st_elevation_mm(s.rhythm), ">=", 1.0,
         "ST elevation of {value:g} mm without a Q wave; from {limit:g} mm stop.",
         TERMINATION_TABLES, "ST change in exercise", asks_when=_watched, bounds=ST_BOUNDS),
    Rule("F-04", D, STOP, lambda s: st_depression_mm(s.rhythm), ">=", 2.0,
         "ST depression of {value:g} mm; from {limit:g} mm stop.", TERMINATION_TABLES,
         "ST change in exercise", asks_when=_watched, bounds=ST_BOUNDS),
    Rule("F-04", D, CAUTION, lambda s: st_depression_mm(s.rhythm), ">=", 1.0,
         "ST depression of {value:g} mm has reached {limit:g} mm.", at.PRACTICE, "",
         bounds=ST_BOUNDS),
    Rule("F-05", D, STOP, _rhythm_is(frozenset({"vt"})), ">=", 1,
         "Ventricular tachycardia: stop; follow the emergency plan.", TERMINATION_TABLES,
         "rhythm in exercise", asks_when=_watched, is_emergency=True),
    Rule("F-06", D, STOP, _rhythm_is(STOPPING), ">=", 1,
         "An arrhythmia of the stop list: new or fast AF, SVT, heart block, bradyarrhythmia or "
         "complex ventricular ectopy.", TERMINATION_TABLES, "rhythm in exercise",
         asks_when=_watched),
    Rule("F-06", D, STOP, _block_is("av"), ">=", 1, "New AV block in exercise.",
         TERMINATION_TABLES, "", of="block"),
    Rule("F-07", D, STOP, _run_beats, ">", 3,
         "A run of {value:g} ventricular beats; more than {limit:g} is a reason to stop.",
         CARDIOPULMONARY_LIST, ""),
    Rule("F-07", D, STOP, lambda s: yes_is_one(s.rhythm.pvc_is_rising), ">=", 1,
         "PVCs become more frequent.", CARDIOPULMONARY_LIST, "", of="rising"),
    Rule("F-08", D, STOP, _block_is("bundle"), ">=", 1,
         "New bundle-branch block or conduction delay: stop unless it can be told from VT.",
         TERMINATION_TABLES, "", of="bundle"),
    Rule("F-20", D, STOP, lambda s: widened_qrs_ms(s.rhythm), ">", 120,
         "QRS widened to {value:g} ms during exercise, beyond {limit:g} ms: stop and reassess.",
         PRACTICE_ECG, "QRS during exercise", asks_when=_watched, bounds=QRS_BOUNDS, is_local=True),
    Rule("F-21", D, STOP, lambda s: s.rhythm.pvc_per_minute, ">=", 6,
         "{value:g} PVCs per minute; from {limit:g} stop and reassess.",
         PRACTICE_ECG, "PVCs per minute", asks_when=_watched, bounds=PVC_BOUNDS, is_local=True),
    Rule("F-22", D, STOP, lambda s: yes_is_one(s.rhythm.couplets_or_triplets), ">=", 1,
         "Ventricular couplets or triplets: stop and reassess.",
         PRACTICE_ECG, "couplets or triplets", asks_when=_watched, is_local=True),
    Rule("F-23", D, STOP, lambda s: yes_is_one(s.rhythm.has_run), ">=", 1,
         "A run of ventricular tachycardia: stop; follow the emergency plan.",
         PRACTICE_ECG, "", is_local=True, is_emergency=True),
    Rule("F-24", D, STOP, lambda s: yes_is_one(s.rhythm.is_multiform), ">=", 1,
         "Multiform PVCs: stop and reassess.", f"{PRACTICE_ECG}; F-06 names them as relative",
         "multiform PVCs", asks_when=_watched, is_local=True),
)  # fmt: skip
DURING: tuple[Rule, ...] = (
    *[replace(rule, is_each_load=True) for rule in UNDER_LOAD],
    *ON_THE_MONITOR,
    *[rule_of(q, asks_for="signs in exercise") for q in SEEN_DURING],
)
