"""Who should not start today, who must stop now: rules as data, judged by a pure function.

A rule reads one fact, compares it with a limit and has a level and a plain sentence. Its operator
is stored with the number, since published lists disagree at the exact boundary. Sources are the
published lists named beside each rule; "local" marks practitioners' thresholds without one.
A finding supports the clinician in the room and decides nothing. What could not be checked is
reported as missing, never as normal.
"""

import operator
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum

from programs.attendance.calc.readings import (
    SYSTOLIC_FALL_LIMIT_MMHG,
    Readings,
    highest_diastolic_mmhg,
    highest_systolic_mmhg,
    systolic_fall_mmhg,
    weight_gain_kg,
    widened_qrs_ms,
    yes_is_one,
)
from programs.enrolment.calc import resting_limits as limits


class Level(IntEnum):
    NOTE = 1
    CAUTION = 2
    HOLD = 3
    STOP = 4

    @property
    def word(self) -> str:
        return self.name.lower()


class Phase(StrEnum):
    BEFORE = "before"
    DURING = "during"


OPERATORS: dict[str, Callable[[float, float], bool]] = {
    ">": operator.gt,
    ">=": operator.ge,
    "<": operator.lt,
}


@dataclass(frozen=True)
class Rule:
    """One limit. ``sentence`` may use {value} and {limit}; ``applies`` says for whom."""

    id: str
    phase: Phase
    level: Level
    reads: Callable[[Readings], float | None]
    compare: str
    limit: float
    sentence: str
    source: str
    asks_for: str  # what is missing when there is nothing to read
    applies: Callable[[Readings], bool] = field(default=lambda r: True)
    is_local: bool = False

    def triggers(self, value: float) -> bool:
        return OPERATORS[self.compare](value, self.limit)


@dataclass(frozen=True)
class Finding:
    rule_id: str
    level: Level
    phase: Phase
    value: float
    limit: float
    sentence: str
    source: str


@dataclass(frozen=True)
class Missing:
    """A rule that could not be checked, and what it needs."""

    rule_id: str
    phase: Phase
    asks_for: str


@dataclass(frozen=True)
class Evaluation:
    findings: list[Finding]  # worst first
    missing: list[Missing]
    checked: frozenset[str] = frozenset()  # rules that had something to read

    @property
    def worst(self) -> Level | None:
        return self.findings[0].level if self.findings else None


COLBERG = "Colberg 2016, Diabetes Care 39:2065, Table 1, doi:10.2337/dc16-1728"
TERMINATION_LIST = "J Sports Sci Med suppl. 7, Table 7 (fall of 10 or more, or failure to rise)"
TERMINATION_TABLES = "Am Fam Physician 2017;96:293; Trials 2013;14:91, Table 6"
ADA = "American Diabetes Association 2017, Diabetes Care 40(Suppl 1), Table 6.3"
ASKED_GLUCOSE = "glucose, asked for because insulin or a secretagogue is listed"
PRACTICE_ECG = "local telemetry threshold; common practice, no source"

SYSTOLIC_BEFORE = "Systolic {value:g} is above this program’s limit of {limit:g} before exercise."
DIASTOLIC_BEFORE = "Diastolic {value:g} is above this program’s limit of {limit:g} before exercise."

# F-20 to F-22 are local thresholds.
RULES: tuple[Rule, ...] = (
    Rule("E-01", Phase.BEFORE, Level.HOLD, lambda r: r.systolic_mmhg, ">",
         limits.SYSTOLIC_HOLD_ABOVE,
         SYSTOLIC_BEFORE, limits.PRESSURE_LIST, "blood pressure"),
    Rule("E-01", Phase.BEFORE, Level.CAUTION, lambda r: r.systolic_mmhg, ">",
         limits.SYSTOLIC_CAUTION_ABOVE,
         SYSTOLIC_BEFORE, limits.PRESSURE_LIST, "blood pressure"),
    Rule("E-02", Phase.BEFORE, Level.HOLD, lambda r: r.diastolic_mmhg, ">",
         limits.DIASTOLIC_HOLD_ABOVE,
         DIASTOLIC_BEFORE, limits.PRESSURE_LIST, "blood pressure"),
    Rule("E-02", Phase.BEFORE, Level.CAUTION, lambda r: r.diastolic_mmhg, ">",
         limits.DIASTOLIC_CAUTION_ABOVE,
         DIASTOLIC_BEFORE, limits.PRESSURE_LIST, "blood pressure"),
    Rule("E-04", Phase.BEFORE, Level.HOLD, lambda r: r.heart_rate_bpm, ">",
         limits.HEART_RATE_HOLD_ABOVE,
         "Resting heart rate {value:g} is above this program’s limit of {limit:g}.",
         limits.HEART_ONLINE, "heart rate"),
    Rule("E-04", Phase.BEFORE, Level.CAUTION, lambda r: r.heart_rate_bpm, ">=",
         limits.HEART_RATE_CAUTION_FROM,
         "Resting heart rate {value:g} has reached {limit:g}.",
         f"{limits.HEART_FAILURE_LIST}; from memory for others", "heart rate"),
    Rule("E-10", Phase.BEFORE, Level.HOLD, weight_gain_kg, ">=",
         limits.WEIGHT_GAIN_KG,
         "Weight is up {value:.1f} kg within three days and there are new symptoms; "
         "the limit in heart failure is {limit:g} kg.",
         limits.HEART_FAILURE_LIST, "weight, and a weight of the last three days",
         applies=lambda r: r.has_heart_failure and r.has_new_symptoms is True),
    Rule("E-10", Phase.BEFORE, Level.CAUTION, weight_gain_kg, ">=",
         limits.WEIGHT_GAIN_KG,
         "Weight is up {value:.1f} kg within three days; the limit in heart failure is "
         "{limit:g} kg. Ask about breathlessness and swelling.",
         limits.HEART_FAILURE_LIST, "weight, and a weight of the last three days",
         applies=lambda r: r.has_heart_failure),
    Rule("E-18", Phase.BEFORE, Level.HOLD, lambda r: r.spo2_percent, "<",
         limits.SPO2_HOLD_BELOW,
         "Resting oxygen saturation {value:g} % is below this program’s limit of {limit:g} %.",
         limits.PRACTICE, "oxygen saturation"),
    Rule("E-17", Phase.BEFORE, Level.HOLD, lambda r: r.systolic_mmhg, "<",
         limits.SYSTOLIC_LOW_BELOW,
         "Systolic {value:g} is below {limit:g} and there are new symptoms.",
         limits.PRACTICE, "blood pressure", applies=lambda r: r.has_new_symptoms is True),
    Rule("E-17", Phase.BEFORE, Level.CAUTION, lambda r: r.systolic_mmhg, "<",
         limits.SYSTOLIC_LOW_BELOW,
         "Systolic {value:g} is below {limit:g}. Ask about dizziness.",
         limits.PRACTICE, ""),
    Rule("E-30", Phase.BEFORE, Level.HOLD, lambda r: yes_is_one(r.has_new_symptoms), ">=", 1,
         "New symptoms since the last visit: a clinician decides before exercise.",
         limits.PRACTICE, "whether there are new symptoms"),
    Rule("G-02", Phase.BEFORE, Level.HOLD, lambda r: r.glucose_mgdl, "<", 54,
         "Glucose {value:g} mg/dL is below {limit:g}, a level 2 low: treat now, no exercise.",
         ADA, ""),
    Rule("G-01", Phase.BEFORE, Level.HOLD, lambda r: r.glucose_mgdl, "<", 70,
         "Glucose {value:g} mg/dL is below {limit:g}, a low: treat and recheck before exercise.",
         f"{ADA}; exactly 70 from memory", ""),
    Rule("G-05", Phase.BEFORE, Level.HOLD, lambda r: r.glucose_mgdl, ">=", 350,
         "Glucose {value:g} mg/dL has reached {limit:g} in somebody on insulin or a secretagogue: "
         "test ketones; a clinician decides, and no intense effort.",
         COLBERG, ASKED_GLUCOSE, applies=lambda r: r.uses_insulin),
    Rule("G-05", Phase.BEFORE, Level.CAUTION, lambda r: r.glucose_mgdl, ">=", 250,
         "Glucose {value:g} mg/dL has reached {limit:g} in somebody on insulin or a secretagogue: "
         "test ketones; none if moderate or large, else mild to moderate effort only.",
         COLBERG, "", applies=lambda r: r.uses_insulin),
    Rule("G-08", Phase.BEFORE, Level.CAUTION, lambda r: r.glucose_mgdl, ">", 300,
         "Glucose {value:g} mg/dL is above {limit:g}: exercise with caution, and only if well.",
         "ADA/ACSM general guidelines (older rule)", "", applies=lambda r: not r.uses_insulin),
    Rule("G-05", Phase.BEFORE, Level.HOLD, lambda r: r.glucose_mgdl, "<", 90,
         "Glucose {value:g} mg/dL is below {limit:g} in somebody on insulin or a secretagogue: "
         "15 to 30 g carbohydrate first, then recheck.",
         COLBERG, ASKED_GLUCOSE,
         applies=lambda r: r.uses_insulin),
    Rule("G-05", Phase.BEFORE, Level.CAUTION, lambda r: r.glucose_mgdl, "<", 90,
         "Glucose {value:g} mg/dL is below {limit:g}.",
         "from memory for people without insulin", "",
         applies=lambda r: not r.uses_insulin),
    Rule("F-01", Phase.DURING, Level.STOP, systolic_fall_mmhg, ">=",
         SYSTOLIC_FALL_LIMIT_MMHG,
         "Systolic pressure fell by {value:g} as the load rose; the limit is {limit:g}.",
         TERMINATION_LIST, "blood pressure during exercise and the load of each"),
    Rule("F-02", Phase.DURING, Level.STOP, highest_systolic_mmhg, ">", 250,
         "Systolic {value:g} during exercise is above {limit:g}.",
         TERMINATION_TABLES, "blood pressure during exercise"),
    Rule("F-02", Phase.DURING, Level.STOP, highest_diastolic_mmhg, ">", 115,
         "Diastolic {value:g} during exercise is above {limit:g}.", TERMINATION_TABLES,
         "blood pressure during exercise"),
    Rule("F-02", Phase.DURING, Level.CAUTION, highest_systolic_mmhg, ">=", 220,
         "Systolic {value:g} during exercise has reached {limit:g}.", limits.PRACTICE, ""),
    Rule("F-02", Phase.DURING, Level.CAUTION, highest_diastolic_mmhg, ">=", 110,
         "Diastolic {value:g} during exercise has reached {limit:g}.", limits.PRACTICE, ""),
    Rule("F-20", Phase.DURING, Level.STOP, widened_qrs_ms, ">", 120,
         "QRS widened to {value:g} ms during exercise, beyond {limit:g} ms: stop and reassess.",
         PRACTICE_ECG, "QRS during exercise", is_local=True),
    Rule("F-21", Phase.DURING, Level.STOP, lambda r: r.pvc_per_minute, ">=", 6,
         "{value:g} PVCs per minute; from {limit:g} stop and reassess.",
         PRACTICE_ECG, "PVCs per minute", is_local=True),
    Rule("F-22", Phase.DURING, Level.STOP,
         lambda r: yes_is_one(r.has_couplets_or_triplets), ">=", 1,
         "Ventricular couplets or triplets: stop and reassess.",
         PRACTICE_ECG, "couplets or triplets", is_local=True),
)  # fmt: skip


def evaluate(rules: Sequence[Rule], readings: Readings) -> Evaluation:
    """Judge the readings by the rules: the worst finding of each rule id, and what is missing.

    During-exercise rules are only missing once exercise has begun.
    """
    worst: dict[str, Finding] = {}
    missing: dict[str, Missing] = {}
    checked = set()
    for rule in rules:
        if not rule.applies(readings):
            continue
        value = rule.reads(readings)
        if value is not None:
            checked.add(rule.id)
        if value is None:
            if rule.asks_for and (rule.phase == Phase.BEFORE or readings.has_exercised):
                missing.setdefault(rule.id, Missing(rule.id, rule.phase, rule.asks_for))
        elif rule.triggers(value) and (rule.id not in worst or rule.level > worst[rule.id].level):
            worst[rule.id] = _finding(rule, value)
    ranked = sorted(worst.values(), key=lambda f: (-f.level, f.rule_id))
    return Evaluation(ranked, list(missing.values()), frozenset(checked))


def _finding(rule: Rule, value: float) -> Finding:
    sentence = rule.sentence.format(value=value, limit=rule.limit)
    return Finding(rule.id, rule.level, rule.phase, value, rule.limit, sentence, rule.source)


def in_words(missing: Iterable[Missing]) -> list[str]:
    """What to ask for, each once, with the rules that wait for it."""
    waiting: dict[str, list[str]] = {}
    for m in missing:
        waiting.setdefault(m.asks_for, []).append(m.rule_id)
    return [f"{asks_for} ({', '.join(ids)})" for asks_for, ids in waiting.items()]
