"""Before exercise: vital signs, the questions of the day, and what the record says (E).

Each rule names its source; how far a site may move a limit is a project choice.
"""

from collections.abc import Callable

from patients.calc.limits import Limit
from programs.attendance.calc.derived import (
    beats_below_detection,
    detection_unknown,
    fall_on_standing_mmhg,
    weight_gain_kg,
    yes_is_one,
)
from programs.attendance.calc.levels import Level, Phase
from programs.attendance.calc.questions import ASKED_BEFORE, QUESTIONS, Question, applies_to
from programs.attendance.calc.rhythm import COMPLEX, SLOW, UNCONTROLLED
from programs.attendance.calc.rules import Rule
from programs.attendance.calc.situation import Situation
from programs.enrolment.calc import resting_limits as at
from programs.enrolment.calc import screen
from programs.prescription.calc.intensity import ICD_MARGIN_BPM

B, HOLD, CAUTION, NOTE = Phase.BEFORE, Level.HOLD, Level.CAUTION, Level.NOTE
SYSTOLIC = "Systolic {value:g} is above this program’s limit of {limit:g} before exercise."
DIASTOLIC = "Diastolic {value:g} is above this program’s limit of {limit:g} before exercise."
WEIGHTS = "weight, and a weight of the last three days"
WHETHER_SYMPTOMS = "symptoms before exercise"
RECENT_EVENT_DAYS, RECENT_MI_DAYS = 2, 21
FEVER_C = 38.0
DEVICE_SOURCE = "10 to 15 beats below the lowest detection rate, others 10 to 20; from memory"
SLOW_BPM = 40  # common practice, no source
# Within these a site may set a limit of its own (project choice).
SYSTOLIC_BOUNDS = Limit("Systolic before exercise", "mmHg", 130, 200)
DIASTOLIC_BOUNDS = Limit("Diastolic before exercise", "mmHg", 80, 115)
LOW_SYSTOLIC_BOUNDS = Limit("Low systolic", "mmHg", 80, 110)
FALL_BOUNDS = Limit("Fall on standing", "mmHg", 10, 30)
RATE_BOUNDS = Limit("Resting heart rate", "/min", 80, 130)
SLOW_BOUNDS = Limit("Slow resting heart rate", "/min", 30, 55)
GAIN_BOUNDS = Limit("Weight gain in three days", "kg", 0.5, 2.3)
DETECTION_BOUNDS = Limit("Beats below the detection rate", "/min", 10, 20)
SPO2_BOUNDS = Limit("Oxygen saturation", "%", 85, 96)
FEVER_BOUNDS = Limit("Temperature", "°C", 37.2, 38.5)


def _vital(id: str, level: Level, name: str, compare: str, limit: float, sentence: str,
           source: str, asks_for: str, bounds: Limit, **more) -> Rule:  # fmt: skip
    def read(s: Situation) -> float | None:
        value: float | None = getattr(s.before, name)
        return value

    return Rule(id, B, level, read, compare, limit, sentence, source, asks_for,
                bounds=bounds, vital=name, **more)  # fmt: skip


VITAL_SIGNS = (
    _vital("E-01", HOLD, "systolic_mmhg", ">", at.SYSTOLIC_HOLD_ABOVE, SYSTOLIC, at.PRESSURE_LIST,
           "blood pressure", SYSTOLIC_BOUNDS),
    _vital("E-01", CAUTION, "systolic_mmhg", ">", at.SYSTOLIC_CAUTION_ABOVE, SYSTOLIC,
           at.PRESSURE_LIST, "blood pressure", SYSTOLIC_BOUNDS),
    _vital("E-02", HOLD, "diastolic_mmhg", ">", at.DIASTOLIC_HOLD_ABOVE, DIASTOLIC,
           at.PRESSURE_LIST, "blood pressure", DIASTOLIC_BOUNDS),
    _vital("E-02", CAUTION, "diastolic_mmhg", ">", at.DIASTOLIC_CAUTION_ABOVE, DIASTOLIC,
           at.PRESSURE_LIST, "blood pressure", DIASTOLIC_BOUNDS),
    Rule("E-03", B, HOLD, fall_on_standing_mmhg, ">", at.ORTHOSTATIC_FALL_MMHG,
         "Systolic fell by {value:g} on standing, with dizziness; the limit is {limit:g}.",
         at.ENROLMENT_LIST, "standing blood pressure, asked for because of dizziness",
         lambda s: s.answers.get("dizzy"), bounds=FALL_BOUNDS, vital="standing_systolic_mmhg",
         asks_whether=WHETHER_SYMPTOMS),
    Rule("E-03", B, CAUTION, fall_on_standing_mmhg, ">=", at.ORTHOSTATIC_FALL_MMHG,
         "Systolic fell by {value:g} on standing; the limit is {limit:g}. Ask about dizziness.",
         f"{at.ENROLMENT_LIST}; without symptoms: project default", "", bounds=FALL_BOUNDS,
         vital="standing_systolic_mmhg"),
    _vital("E-04", HOLD, "heart_rate_bpm", ">", at.HEART_RATE_HOLD_ABOVE,
           "Resting heart rate {value:g} is above this program’s limit of {limit:g}.",
           at.HEART_ONLINE, "heart rate", RATE_BOUNDS),
    _vital("E-04", CAUTION, "heart_rate_bpm", ">=", at.HEART_RATE_CAUTION_FROM,
           "Resting heart rate {value:g} has reached {limit:g}.",
           f"{at.HEART_FAILURE_LIST}; from memory for others", "heart rate", RATE_BOUNDS),
    _vital("E-04", CAUTION, "heart_rate_bpm", "<", SLOW_BPM,
           "Resting heart rate {value:g} is below {limit:g}: look at the rhythm.",
           at.PRACTICE, "", SLOW_BOUNDS, of="slow"),
    Rule("E-10", B, HOLD, weight_gain_kg, ">=", at.WEIGHT_GAIN_KG,
         "Weight is up {value} within three days and there are symptoms; the limit in heart "
         "failure is {limit}.", at.HEART_FAILURE_LIST, WEIGHTS,
         lambda s: s.known.has_heart_failure and s.has_symptoms, bounds=GAIN_BOUNDS,
         vital="weight_kg", asks_whether=WHETHER_SYMPTOMS),
    Rule("E-10", B, CAUTION, weight_gain_kg, ">=", at.WEIGHT_GAIN_KG,
         "Weight is up {value} within three days; the limit in heart failure is {limit}. Ask "
         "about dyspnea and swelling.", at.HEART_FAILURE_LIST, WEIGHTS,
         lambda s: s.known.has_heart_failure, bounds=GAIN_BOUNDS, vital="weight_kg"),
    _vital("E-13", HOLD, "temperature_c", ">", FEVER_C,
           "Temperature {value:g} °C is above {limit:g} °C.", at.ENROLMENT_LIST, "",
           FEVER_BOUNDS),
    _vital("E-17", HOLD, "systolic_mmhg", "<", at.SYSTOLIC_LOW_BELOW,
           "Systolic {value:g} is below {limit:g} and there are symptoms.", at.PRACTICE,
           "blood pressure", LOW_SYSTOLIC_BOUNDS, applies=lambda s: s.has_symptoms,
           asks_whether=WHETHER_SYMPTOMS),
    _vital("E-17", CAUTION, "systolic_mmhg", "<", at.SYSTOLIC_LOW_BELOW,
           "Systolic {value:g} is below {limit:g}. Ask about dizziness.", at.PRACTICE, "",
           LOW_SYSTOLIC_BOUNDS),
    _vital("E-18", HOLD, "spo2_percent", "<", at.SPO2_HOLD_BELOW,
           "Resting oxygen saturation {value:g} % is below this program’s limit of {limit:g} %.",
           at.PRACTICE, "oxygen saturation", SPO2_BOUNDS),
)  # fmt: skip


def _in_words(codes: frozenset[str]) -> Callable[[Situation], float | None]:
    def read(s: Situation) -> float | None:
        return float(s.rhythm.before in codes) if s.rhythm.before else None

    return read


def _block_3_unpaced(s: Situation) -> float | None:
    if not s.rhythm.before:
        return None
    return float(s.rhythm.before == "block_3" and not s.known.has_pacemaker)


def _watched(s: Situation) -> bool:
    """The rhythm is asked for unless somebody said there was no monitor."""
    return s.sheet.has_ecg is not False


def _fails(s: Situation) -> bool:
    return s.known.has_heart_failure


def _does_not_fail(s: Situation) -> bool:
    return not s.known.has_heart_failure


ARRHYTHMIA_LISTS = f"{at.ENROLMENT_LIST}; {at.HEART_ONLINE}"
RHYTHM_AT_REST = (
    Rule("E-05", B, HOLD, _in_words(UNCONTROLLED), ">=", 1,
         "Uncontrolled or new arrhythmia on the monitor before exercise.",
         ARRHYTHMIA_LISTS, "rhythm before exercise", asks_when=_watched),
    Rule("E-05", B, HOLD, _in_words(frozenset({"vt"})), ">=", 1,
         "Ventricular tachycardia before exercise: follow the emergency plan.",
         ARRHYTHMIA_LISTS, "", of="vt", is_emergency=True),
    Rule("E-05", B, HOLD, _in_words(COMPLEX), ">=", 1,
         "Complex ventricular ectopy before exercise.", ARRHYTHMIA_LISTS, "", _does_not_fail,
         of="ectopy"),
    Rule("E-05", B, CAUTION, _in_words(SLOW), ">=", 1,
         "Bradyarrhythmia or second-degree AV block before exercise: a clinician decides.",
         at.PRACTICE, "", of="slow"),
    Rule("E-06", B, HOLD, _block_3_unpaced, ">=", 1,
         "Third-degree AV block, and no pacemaker on record.", "from memory", ""),
    Rule("E-20", B, CAUTION, _in_words(COMPLEX), ">=", 1,
         "Complex ventricular ectopy at rest in heart failure: a clinician decides.",
         f"{at.HEART_FAILURE_LIST} (relative)", "", _fails),
)  # fmt: skip

# What the entry screen found stays in force until somebody screens again.
STANDING = {"E-08", "E-08b", "E-11", "E-12", "E-21"}
SCREENED = {q.id: q for q in screen.QUESTIONS}


def _on_record(key: str) -> Callable[[Situation], float | None]:
    def read(s: Situation) -> float | None:
        if s.known.entry_answers is None or key not in s.known.entry_answers:
            return None
        return float(bool(s.known.entry_answers[key]))

    return read


def _standing(key: str) -> list[Rule]:
    """A hold from the entry screen; a note where a clinician decided on a start in spite of it."""
    asked = SCREENED[key]
    level = CAUTION if asked.level is screen.Found.CAUTION else HOLD
    on_record = f"On record since the entry screen: {asked.asks[0].lower()}{asked.asks[1:]}."
    return [
        Rule(key, B, level, _on_record(key), ">=", 1, on_record, asked.source,
             "the entry screen", lambda s: s.known.entry_says_start is not True,
             is_of_record=True),
        Rule(key, B, NOTE, _on_record(key), ">=", 1,
             f"{on_record} A clinician decided that the person may start.", asked.source,
             "the entry screen", lambda s: s.known.entry_says_start is True,
             is_of_record=True),
    ]  # fmt: skip


ON_RECORD = (
    *[rule for key in sorted(STANDING) for rule in _standing(key)],
    Rule("E-16", B, HOLD, lambda s: s.known.days_since_event, "<", RECENT_EVENT_DAYS + 1,
         "Only {value:g} days since the last event on record; a clinician clears the return.",
         at.ENROLMENT_LIST, "", of="event", is_of_record=True),
    Rule("E-16", B, HOLD, lambda s: s.known.days_since_mi, "<", RECENT_MI_DAYS,
         "Heart failure, and only {value:g} days since the heart attack; the lists ask for three "
         "weeks. A clinician clears the return.",
         f"{at.HEART_ONLINE}; {at.HEART_FAILURE_LIST}", "",
         lambda s: s.known.has_heart_failure, of="mi", is_of_record=True),
    Rule("E-19", B, HOLD, lambda s: float(bool(s.known.events_to_review)), ">=", 1,
         "An event on the floor is not reviewed yet: {detail}.", at.PRACTICE, "", of="event",
         detail=lambda s: ", ".join(s.known.events_to_review), is_of_record=True),
    Rule("E-19", B, CAUTION, lambda s: float(bool(s.known.other_events_to_review)), ">=", 1,
         "An event on the floor is not reviewed yet: {detail}.", at.PRACTICE, "", of="other event",
         detail=lambda s: ", ".join(s.known.other_events_to_review), is_of_record=True),
    Rule("E-20", B, CAUTION, lambda s: s.known.nyha, ">=", 4,
         "NYHA class IV on record: a clinician decides.",
         f"{at.HEART_FAILURE_LIST} (relative)", "", lambda s: s.known.has_heart_failure, of="nyha",
         is_of_record=True),
    Rule("E-entry", B, HOLD, lambda s: yes_is_one(s.known.entry_says_start), "<", 1,
         "The entry screen on record says: not yet. A clinician decides.", at.PRACTICE,
         "the entry screen", is_of_record=True),
    Rule("E-31", B, HOLD, lambda s: float(s.known.was_interrupted), ">=", 1,
         "An earlier session was held or stopped, and its return is not confirmed yet.",
         at.PRACTICE, "", is_of_record=True),
    Rule("H-08", B, CAUTION, detection_unknown, ">=", 1,
         "An implanted defibrillator, and its detection rate is not on record: nobody can tell "
         "which heart rate is too near.", DEVICE_SOURCE, "", of="unknown", is_of_record=True),
    Rule("H-08", B, HOLD, lambda s: beats_below_detection(s, s.before.heart_rate_bpm), "<",
         ICD_MARGIN_BPM,
         "Heart rate is {value:g} beats below the device’s detection rate; the least is {limit:g}.",
         DEVICE_SOURCE, "", of="rest", bounds=DETECTION_BOUNDS, vital="heart_rate_bpm"),
)  # fmt: skip


def rule_of(question: Question, *, asks_for: str = "") -> Rule:
    """A question as a rule: yes is the finding, no settles it, not answered is not checked.

    Parameters
    ----------
    question : the question, with its level, sentence and source.
    asks_for : what is reported as missing while it is open; empty to ask for nothing.

    Returns
    -------
    The rule, told from others of its id by the id of the question. Only those of its group are
    asked, yet a yes counts for anybody.
    """
    return Rule(
        question.rule_id,
        question.phase,
        question.level,
        lambda s: float(s.answers[question.id]) if question.id in s.answers else None,
        ">=",
        1,
        question.sentence,
        question.source,
        asks_for,
        asks_when=lambda s: applies_to(question, groups=s.known.groups),
        of=question.id,
        is_emergency=question.id == "needed_help",
        needs_clinician=question.phase is Phase.BEFORE,
    )


ASKED = (
    *[rule_of(q, asks_for="the questions before exercise") for q in ASKED_BEFORE],
    *[rule_of(q) for q in QUESTIONS if q.id == "needed_help"],
)
BEFORE: tuple[Rule, ...] = (*VITAL_SIGNS, *RHYTHM_AT_REST, *ON_RECORD, *ASKED)
