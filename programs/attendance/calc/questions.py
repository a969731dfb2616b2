"""Yes-or-no questions of a session: before it, seen or said during it, and in recovery.

The list before exercise is common practice, no source; each yes has the level of the published
list beside it. A question not answered stays open and is never a no.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from programs.attendance.calc.levels import Level, Phase
from programs.enrolment.calc import resting_limits as at

TERMINATION_TABLES = "Am Fam Physician 2017;96:293; Trials 2013;14:91, Table 6"
TERMINATION_LISTS = f"{TERMINATION_TABLES}; J Sports Sci Med suppl. 7, Table 7"
CARDIOPULMONARY_LIST = "PMC2943096, Table 2"
TYPE_1_CONSENSUS = "Turner 2019, Sports Med Open, doi:10.1186/s40798-019-0192-1"
EVERYBODY, WITH_ICD, WITH_INSULIN, IN_HEART_FAILURE = "", "icd", "insulin", "heart failure"


@dataclass(frozen=True)
class Question:
    """Answered yes, no or not at all; yes is the finding ``sentence``."""

    id: str
    asks: str
    rule_id: str
    phase: Phase
    level: Level
    sentence: str
    source: str
    only: str = EVERYBODY
    is_symptom: bool = False  # counts as "with symptoms" for pressure and weight
    is_symptom_in: str = EVERYBODY  # a symptom in this group only, though everybody is asked


def _before(id: str, rule: str, asks: str, sentence: str, source: str = at.PRACTICE,
            level: Level = Level.HOLD, **more: Any) -> Question:  # fmt: skip
    return Question(id, asks, rule, Phase.BEFORE, level, sentence, source, **more)


def _during(id: str, rule: str, asks: str, sentence: str, source: str) -> Question:
    return Question(id, asks, rule, Phase.DURING, Level.STOP, sentence, source)


def _after(id: str, rule: str, asks: str, sentence: str) -> Question:
    return Question(id, asks, rule, Phase.AFTER, Level.HOLD, sentence, at.PRACTICE)


QUESTIONS: tuple[Question, ...] = (
    _before("chest_pain", "E-07", "Chest pain at rest, or a new pattern of it",
            "Chest pain at rest or in a new pattern: no exercise; a clinician today.",
            at.ENROLMENT_LIST, is_symptom=True),
    _before("breathless", "E-30", "More breathless than usual",
            "More breathless than usual: a clinician decides before exercise.", is_symptom=True),
    _before("worse", "E-09", "Effort tolerance or breathlessness worse over 3 to 5 days",
            "Heart failure getting worse over 3 to 5 days: no exercise until reviewed.",
            f"{at.HEART_ONLINE}; {at.HEART_FAILURE_LIST}", only=IN_HEART_FAILURE, is_symptom=True),
    _before("dizzy", "E-30", "Dizzy or light-headed",
            "Dizzy or light-headed: measure standing pressure; a clinician decides.",
            is_symptom=True),
    _before("fainted", "E-19", "Fainted or nearly fainted",
            "Fainted or nearly fainted since the last visit: hold until reviewed.",
            is_symptom=True),
    _before("palpitations", "E-30", "Palpitations",
            "Palpitations: look at the rhythm; a clinician decides before exercise.",
            is_symptom=True),
    _before("weight_up", "E-30", "Weight up at home",
            "Weight up at home: weigh and compare before exercise.", level=Level.CAUTION),
    _before("swelling", "E-30", "Swelling of legs or belly",
            "Swelling: weigh and compare before exercise.", level=Level.CAUTION,
            is_symptom_in=IN_HEART_FAILURE),
    _before("shock", "E-19", "Shock from the defibrillator",
            "Device shock since the last visit: hold until reviewed.", only=WITH_ICD),
    _before("fell", "E-19", "A fall", "A fall since the last visit: hold until reviewed."),
    _before("neuro", "E-19", "New weakness, numbness or trouble speaking",
            "New neurological sign: hold until reviewed."),
    _before("missed_doses", "E-19", "Heart medicine missed",
            "Heart medicine missed: hold until reviewed."),
    _before("medicine_changed", "E-30", "A medicine changed",
            "A medicine changed: is the target heart rate still right?", level=Level.CAUTION),
    _before("ill", "E-13", "Fever or feeling ill", "Fever or acute illness: no exercise today.",
            f"{at.ENROLMENT_LIST}; {at.HEART_ONLINE}"),
    _before("stomach", "E-15", "Vomiting, diarrhoea or dried out in the last 36 hours",
            "Vomiting, diarrhoea or dehydration in the last 24 to 36 hours: no exercise today.",
            at.ENROLMENT_LIST),
    _before("wound", "E-30", "Wound or access site problem, sternal click",
            "Wound or access site problem, or sternal click: stop and refer.",
            f"{at.PRACTICE}; sternal click from memory"),
    _before("severe_low", "G-06", "Glucose so low that somebody had to help, last 24 hours",
            "A low that needed another person’s help in the last 24 hours: no exercise.",
            TYPE_1_CONSENSUS, only=WITH_INSULIN),
    _before("other", "E-30", "Anything else new",
            "New symptoms since the last visit: a clinician decides before exercise.",
            is_symptom=True),
    _during("asks_to_stop", "F-14", "Asks to stop", "The person asks to stop.",
            TERMINATION_LISTS),
    _during("unsteady", "F-10", "Dizzy, unsteady or near fainting",
            "Dizzy, unsteady or near fainting.", TERMINATION_TABLES),
    _during("pale", "F-10", "Pale, blue, cold or clammy", "Pale, blue, cold or clammy.",
            TERMINATION_TABLES),
    _during("wheeze", "F-11", "Wheeze", "Wheeze in exercise.", TERMINATION_TABLES),
    _during("leg_pain", "F-11", "Leg cramps or claudication",
            "Leg cramps or claudication in exercise.", TERMINATION_TABLES),
    _during("no_rise", "F-15", "Heart rate does not rise with the load, and tired or dizzy",
            "Heart rate fails to rise with the load, with fatigue or dizziness.",
            CARDIOPULMONARY_LIST),
    _during("unreadable", "F-13", "ECG or pressure cannot be read",
            "The ECG or the blood pressure cannot be read.", TERMINATION_TABLES),
    _after("after_chest_pain", "R-06", "Chest pain",
           "Chest pain in recovery: stays until a clinician has seen it."),
    _after("after_dizzy", "R-06", "Dizzy or faint",
           "Dizzy or faint in recovery: sit or lie down; stays until a clinician has seen it."),
    _after("after_rhythm", "R-06", "Palpitations, or a new rhythm on the monitor",
           "Palpitations or a new rhythm in recovery: stays until a clinician has seen it."),
    _after("after_breathless", "R-06", "Breathless beyond what the exercise explains",
           "Breathless in recovery: stays until a clinician has seen it."),
    # Not asked beforehand: noted while a low is treated.
    Question("needed_help", "Somebody had to help with a low", "G-03", Phase.BEFORE, Level.STOP,
             "A level 3 low: another person had to help. No exercise; follow the local plan.",
             "American Diabetes Association 2017, Diabetes Care 40(Suppl 1), Table 6.3"),
)  # fmt: skip
BY_ID: dict[str, Question] = {q.id: q for q in QUESTIONS}
SYMPTOMS = tuple(q.id for q in QUESTIONS if q.is_symptom and not q.only)
SYMPTOMS_IN_HEART_FAILURE = tuple(q.id for q in QUESTIONS if q.is_symptom or q.is_symptom_in)
SIGNS = ("unsteady", "pale", "wheeze")  # with which a low saturation is one with symptoms
ASKED_BEFORE = tuple(q for q in QUESTIONS if q.phase is Phase.BEFORE and q.id != "needed_help")
SEEN_DURING = tuple(q for q in QUESTIONS if q.phase is Phase.DURING)
ASKED_AFTER = tuple(q for q in QUESTIONS if q.phase is Phase.AFTER)

Answers = Mapping[str, bool]


def any_of(answers: Answers, ids: tuple[str, ...]) -> bool | None:
    """Whether one of several questions was answered yes.

    Parameters
    ----------
    answers : answer by id of its question; what is not in it is open.
    ids : ids of the questions.

    Returns
    -------
    True when one is yes, False when each was answered no, None while one is open and none is yes.
    """
    given = [answers.get(key) for key in ids]
    return True if any(given) else None if None in given else False


def applies_to(question: Question, *, groups: frozenset[str]) -> bool:
    """Whether somebody in these groups is asked; everybody is asked most questions.

    Parameters
    ----------
    question : the question.
    groups : the person's groups, as ``Known.groups`` gives them.

    Returns
    -------
    True when the question is for everybody or for one of the groups.
    """
    return not question.only or question.only in groups
