"""Entry screen: what speaks against exercise, asked once before the program.

Every criterion is answered yes, no or not at all; a measured one by its number. An unanswered
criterion stays open and is named: the screen never says "safe". Levels are those of the published
lists beside each criterion ("absolute" is a hold, "relative" a caution), or say "from memory" or
"common practice, no source"; a clinician decides.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from patients.calc.limits import DIASTOLIC_MMHG, HEART_RATE_BPM, SPO2_PERCENT, SYSTOLIC_MMHG, Limit
from programs.enrolment.calc import resting_limits as at


class Found(StrEnum):
    """What the whole screen amounts to, worst first."""

    HOLD = "hold"
    CAUTION = "caution"
    OPEN = "open"
    NOTHING = "nothing"


ORTHOSTATIC_FALL_MMHG = Limit("Fall on standing", "mmHg", 0, 150, 0, 60)
WEIGHT_GAIN_KG = Limit("Weight gain in three days", "kg", 0, 30, 0, 8)


@dataclass(frozen=True)
class Question:
    """Answered yes or no; yes is the finding."""

    id: str
    asks: str
    level: Found
    source: str


@dataclass(frozen=True)
class Reading:
    """Answered by a number; ``judge`` turns it, with a yes-or-no beside it, into a level."""

    id: str
    asks: str
    limit: Limit
    judge: Callable[[float, bool | None], Found]
    source: str
    beside: str = ""  # id of the yes-or-no question that sharpens it


@dataclass(frozen=True)
class Told:
    """A stored finding, its sentence apart from the criterion and the source it comes from."""

    words: str
    key: str = ""
    source: str = ""


def told(sentence: str) -> Told:
    """A finding as ``Screened.sentences`` writes it, taken apart.

    Parameters
    ----------
    sentence : a finding in words, with the id of its criterion behind it in parentheses.

    Returns
    -------
    Words, id and source; the sentence whole where no known criterion stands behind it.
    """
    words, _, key = sentence.removesuffix(")").rpartition(" (")
    return Told(words, key, SOURCES[key]) if words and key in SOURCES else Told(sentence)


@dataclass(frozen=True)
class Screened:
    found: Found
    findings: tuple[tuple[Found, str, str], ...]  # level, criterion id, sentence; worst first
    unanswered: tuple[str, ...]  # ids

    @property
    def sentences(self) -> list[str]:
        """The findings in words, each with the id of its criterion, the worst first."""
        return [f"{words} ({key})" for _, key, words in self.findings]


def _above(hold: float, caution: float) -> Callable[[float, bool | None], Found]:
    def judge(value: float, _: bool | None) -> Found:
        if value > hold:
            return Found.HOLD
        return Found.CAUTION if value > caution else Found.NOTHING

    return judge


def _systolic(value: float, has_symptoms: bool | None) -> Found:
    """E-01 above, E-17 below: low pressure is a hold with symptoms, a caution otherwise."""
    if value < at.SYSTOLIC_LOW_BELOW:
        return Found.HOLD if has_symptoms else Found.CAUTION
    return _above(at.SYSTOLIC_HOLD_ABOVE, at.SYSTOLIC_CAUTION_ABOVE)(value, None)


def _heart_rate(value: float, _: bool | None) -> Found:
    if value > at.HEART_RATE_HOLD_ABOVE:
        return Found.HOLD
    return Found.CAUTION if value >= at.HEART_RATE_CAUTION_FROM else Found.NOTHING


def _orthostatic(value: float, has_symptoms: bool | None) -> Found:
    if value > at.ORTHOSTATIC_FALL_MMHG and has_symptoms:
        return Found.HOLD
    return Found.CAUTION if value >= at.ORTHOSTATIC_FALL_MMHG else Found.NOTHING


def _weight_gain(value: float, has_symptoms: bool | None) -> Found:
    if value < at.WEIGHT_GAIN_KG:
        return Found.NOTHING
    return Found.HOLD if has_symptoms else Found.CAUTION


def _spo2(value: float, _: bool | None) -> Found:
    return Found.HOLD if value < at.SPO2_HOLD_BELOW else Found.NOTHING


READINGS: tuple[Reading, ...] = (
    Reading("E-01", "Systolic pressure at rest", SYSTOLIC_MMHG, _systolic,
            f"{at.PRESSURE_LIST}; below 90: {at.PRACTICE}", "E-17"),
    Reading("E-02", "Diastolic pressure at rest", DIASTOLIC_MMHG,
            _above(at.DIASTOLIC_HOLD_ABOVE, at.DIASTOLIC_CAUTION_ABOVE), at.PRESSURE_LIST),
    Reading("E-04", "Heart rate at rest", HEART_RATE_BPM, _heart_rate,
            f"{at.HEART_ONLINE}; from 100: {at.HEART_FAILURE_LIST}, from memory for others"),
    Reading("E-18", "Oxygen saturation at rest", SPO2_PERCENT, _spo2, at.PRACTICE),
    Reading("E-03", "Systolic fall on standing", ORTHOSTATIC_FALL_MMHG, _orthostatic,
            at.ENROLMENT_LIST, "E-17"),
    Reading("E-10", "Weight gain in the last three days, heart failure", WEIGHT_GAIN_KG,
            _weight_gain, at.HEART_FAILURE_LIST, "E-09"),
)  # fmt: skip
QUESTIONS: tuple[Question, ...] = (
    Question("E-05", "Uncontrolled atrial or ventricular arrhythmia, or new atrial fibrillation",
             Found.HOLD, f"{at.ENROLMENT_LIST}; {at.HEART_ONLINE}"),
    Question("E-06", "Third-degree AV block without a pacemaker", Found.HOLD, "from memory"),
    Question("E-07", "Unstable angina, angina at rest, or a new pattern of angina",
             Found.HOLD, at.ENROLMENT_LIST),
    Question("E-08", "Symptomatic severe aortic stenosis",
             Found.HOLD, f"{at.ENROLMENT_LIST}; {at.HEART_ONLINE}"),
    Question("E-08b", "Moderate aortic stenosis", Found.CAUTION, f"{at.HEART_ONLINE} (relative)"),
    Question("E-09", "Heart failure getting worse: dyspnea or effort tolerance, 3 to 5 days",
             Found.HOLD, f"{at.HEART_ONLINE}; {at.HEART_FAILURE_LIST}"),
    Question("E-11", "Active myocarditis, pericarditis or endocarditis, or aortic dissection",
             Found.HOLD, f"{at.PRESSURE_LIST}; {at.HEART_ONLINE}"),
    Question("E-12", "Embolism within four weeks, or thrombophlebitis", Found.HOLD,
             at.HEART_ONLINE),
    Question("E-13", "Fever or acute illness", Found.HOLD,
             f"{at.ENROLMENT_LIST}; {at.HEART_ONLINE}"),
    Question("E-14", "Uncontrolled diabetes", Found.HOLD,
             f"{at.ENROLMENT_LIST}; {at.HEART_ONLINE}"),
    Question("E-15", "Electrolyte disorder, severe anaemia, dehydration, vomiting or diarrhoea",
             Found.HOLD, at.ENROLMENT_LIST),
    Question("E-16", "Acute event within two days; in heart failure a heart attack within three "
             "weeks; no clearance yet", Found.HOLD,
             f"{at.ENROLMENT_LIST}; {at.HEART_FAILURE_LIST}"),
    Question("E-17", "Dizziness or other symptoms of low pressure", Found.HOLD, at.PRACTICE),
    Question("E-19", "Missed heart medicines, device shock, syncope, fall or new neurological sign",
             Found.HOLD, at.PRACTICE),
    Question("E-20", "Complex ventricular arrhythmia at rest, NYHA IV, or pressure falling with "
             "exercise", Found.CAUTION, f"{at.HEART_FAILURE_LIST} (relative)"),
    Question("E-21", "Regurgitant valve disease needing surgery, or ischaemia below 2 METs",
             Found.HOLD, at.HEART_FAILURE_LIST),
)  # fmt: skip
ORDER = [Found.HOLD, Found.CAUTION, Found.OPEN, Found.NOTHING]


def screen(answers: Mapping[str, Any], *, has_heart_failure: bool = True) -> Screened:
    """What the answers amount to, criterion by criterion.

    Parameters
    ----------
    answers : criterion id to True, False, a number, or None for not answered. Numbers: E-01
        [mmHg], 50 to 300; E-02 [mmHg], 20 to 200; E-03 [mmHg], 0 to 150; E-04 [/min], 20 to 250;
        E-10 [kg], 0 to 30; E-18 [%], 50 to 100.
    has_heart_failure : weight gain (E-10) is asked in heart failure only.

    Returns
    -------
    The worst level, the findings and the ids not answered. Without a finding the level is
    ``OPEN`` while anything is unanswered, ``NOTHING`` only when all is answered.

    Raises
    ------
    OutOfRange : a reading is impossible.
    """
    findings: list[tuple[Found, str, str]] = []
    unanswered = []
    for reading in READINGS:
        value = answers.get(reading.id)
        if reading.id == "E-10" and not has_heart_failure:
            continue
        if value is None:
            unanswered.append(reading.id)
            continue
        level = reading.judge(reading.limit.check(value), answers.get(reading.beside))
        if level is not Found.NOTHING:
            words = f"{reading.asks} {value:g} {reading.limit.unit}"
            findings.append((level, reading.id, words))
    for question in QUESTIONS:
        answer = answers.get(question.id)
        if answer is None:
            unanswered.append(question.id)
        elif answer:
            findings.append((question.level, question.id, question.asks))
    findings.sort(key=lambda finding: ORDER.index(finding[0]))
    worst = findings[0][0] if findings else Found.OPEN if unanswered else Found.NOTHING
    return Screened(worst, tuple(findings), tuple(unanswered))


SOURCES: dict[str, str] = {r.id: r.source for r in READINGS} | {q.id: q.source for q in QUESTIONS}
NAMES: dict[str, str] = {r.id: r.asks for r in READINGS} | {q.id: q.asks for q in QUESTIONS}
