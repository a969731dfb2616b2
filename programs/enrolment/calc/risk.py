"""Risk of events during exercise: low, moderate or high, with what decided and what is missing.

Criteria of the AACVPR type after PMC8006124, Table 3; cut-offs that copy leaves open (symptoms
below 5 METs, ST depression of 2 mm, falling pressure, an implanted defibrillator) are from memory.
One published copy lists complex ventricular arrhythmia under moderate and high alike; high is
taken. Somebody neither low nor high, or with an item unanswered, is moderate (from memory).

Without an exercise test the class rests on the other items, as Bhat 2021
(doi:10.1097/HCR.0000000000000584) evaluated; the result says so. A second published table
(eacpr.org, acpr-1-1-6, Table 4) is read beside it and only remarked upon.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from patients.calc.limits import LVEF_PERCENT, Limit

LOW_CAPACITY_METS, GOOD_CAPACITY_METS = 5, 7  # below 5 moderate, 7 and more low, between: neither
HIGH_RISK_LVEF_BELOW, LOW_RISK_LVEF_FROM = 40, 50  # %
ISCHAEMIA_HIGH_MM = 2.0
CAPACITY_METS = Limit("Capacity", "METs", 1, 25, 2, 16)
ST_DEPRESSION_MM = Limit("ST depression", "mm", 0, 10, 0, 5)


class RiskClass(StrEnum):
    LOW = "low"
    MODERATE = "moderate"
    HIGH = "high"


class Verdict(StrEnum):
    """What one answered criterion says."""

    LOW = "low"
    NEITHER = "neither"
    MODERATE = "moderate"
    HIGH = "high"


class Symptoms(StrEnum):
    """When angina or other significant symptoms came during the exercise test."""

    NONE = "none"
    HIGH_EFFORT = "high_effort"  # 7 METs and more
    MIDDLE_EFFORT = "middle_effort"  # 5 to below 7 METs
    LOW_EFFORT = "low_effort"  # below 5 METs, or in recovery


@dataclass(frozen=True)
class Criterion:
    """One item. ``kind`` is "yes_no", "number" or "symptoms"; test items need an exercise test."""

    id: str
    asks: str
    kind: str
    verdict: Callable[[Any], Verdict]
    is_of_test: bool = False
    limit: Limit | None = None
    source: str = "PMC8006124, Table 3"


@dataclass(frozen=True)
class Risk:
    risk_class: RiskClass
    deciding: tuple[str, ...]  # sentences of the criteria that decided
    missing: tuple[str, ...]  # what was asked and not answered
    remarks: tuple[str, ...] = ()
    is_without_test: bool = False


def _bad(answer: bool) -> Verdict:
    return Verdict.HIGH if answer else Verdict.LOW


def _capacity(mets: float) -> Verdict:
    if mets < LOW_CAPACITY_METS:
        return Verdict.MODERATE
    return Verdict.LOW if mets >= GOOD_CAPACITY_METS else Verdict.NEITHER


def _lvef(percent: float) -> Verdict:
    if percent < HIGH_RISK_LVEF_BELOW:
        return Verdict.HIGH
    return Verdict.LOW if percent >= LOW_RISK_LVEF_FROM else Verdict.MODERATE


def _ischaemia(depression_mm: float) -> Verdict:
    if depression_mm <= 0:
        return Verdict.LOW
    return Verdict.HIGH if depression_mm >= ISCHAEMIA_HIGH_MM else Verdict.MODERATE


def _symptoms(answer: str) -> Verdict:
    return {
        Symptoms.NONE: Verdict.LOW,
        Symptoms.HIGH_EFFORT: Verdict.MODERATE,
        Symptoms.MIDDLE_EFFORT: Verdict.NEITHER,
        Symptoms.LOW_EFFORT: Verdict.HIGH,
    }[Symptoms(answer)]


FROM_MEMORY = "PMC8006124, Table 3; the cut-off from memory"
CRITERIA: tuple[Criterion, ...] = (
    Criterion("test_arrhythmia", "Complex ventricular arrhythmia in the test or recovery",
              "yes_no", _bad, is_of_test=True),
    Criterion("test_symptoms", "Angina or other significant symptoms in the test", "symptoms",
              _symptoms, is_of_test=True, source=FROM_MEMORY),
    Criterion("st_depression_mm", "ST depression in the test", "number", _ischaemia,
              is_of_test=True, limit=ST_DEPRESSION_MM, source=FROM_MEMORY),
    Criterion("abnormal_haemodynamics",
              "Pressure flat or falling with load, heart rate failing to rise, or severe "
              "hypotension afterwards", "yes_no", _bad, is_of_test=True, source=FROM_MEMORY),
    Criterion("capacity_mets", "Functional capacity", "number", _capacity, is_of_test=True,
              limit=CAPACITY_METS),
    Criterion("lvef_percent", "LVEF", "number", _lvef, limit=LVEF_PERCENT),
    Criterion("rest_arrhythmia", "Complex ventricular arrhythmia at rest", "yes_no", _bad,
              source=FROM_MEMORY),
    Criterion("complicated", "Complicated heart attack or revascularisation", "yes_no", _bad),
    Criterion("heart_failure", "Heart failure", "yes_no", _bad),
    Criterion("ischaemia_after", "Signs of ischaemia after the event or procedure", "yes_no",
              _bad),
    Criterion("arrest", "History of cardiac arrest or sudden death", "yes_no", _bad),
    Criterion("icd", "Implanted defibrillator", "yes_no", _bad, source=FROM_MEMORY),
    Criterion("depression", "Clinical depression", "yes_no", _bad),
)  # fmt: skip
BY_ID = {criterion.id: criterion for criterion in CRITERIA}


def stratify(answers: Mapping[str, Any], *, has_test: bool) -> Risk:
    """The class the criteria give.

    Parameters
    ----------
    answers : criterion id to True or False, a number, or a ``Symptoms`` word; None or absent
        means nobody has answered. Numbers: ``st_depression_mm`` [mm], 0 to 10; ``capacity_mets``
        [METs], 1 to 25; ``lvef_percent`` [%], 5 to 85. ``nyha_class`` (1 to 4) and ``pacemaker``
        are read for the second table only.
    has_test : whether an exercise test was done; without one its items are not asked.

    Returns
    -------
    The class, the criteria that decided, those not answered, and remarks.

    Raises
    ------
    OutOfRange : a number is impossible.
    ValueError : the answer on symptoms is no ``Symptoms`` word.
    """
    verdicts: dict[str, Verdict] = {}
    missing = []
    for criterion in CRITERIA:
        if criterion.is_of_test and not has_test:
            continue
        answer = answers.get(criterion.id)
        if answer is None or answer == "":
            missing.append(criterion.asks)
            continue
        if criterion.limit is not None:
            criterion.limit.check(answer)
        verdicts[criterion.id] = criterion.verdict(answer)
    risk_class, deciding = _decide(verdicts, answers, missing)
    remarks = list(_second_table(answers, risk_class))
    if not has_test:
        remarks.insert(0, "Judged without an exercise test, on the other criteria alone.")
    return Risk(risk_class, deciding, tuple(missing), tuple(remarks), not has_test)


def _decide(
    verdicts: Mapping[str, Verdict], answers: Mapping[str, Any], missing: list[str]
) -> tuple[RiskClass, tuple[str, ...]]:
    def said(*wanted: Verdict) -> tuple[str, ...]:
        return tuple(_sentence(key, answers) for key, v in verdicts.items() if v in wanted)

    if high := said(Verdict.HIGH):
        return RiskClass.HIGH, high
    if moderate := said(Verdict.MODERATE):
        return RiskClass.MODERATE, moderate
    if neither := said(Verdict.NEITHER):
        return RiskClass.MODERATE, tuple(f"{words}: neither low nor high" for words in neither)
    if missing:
        return RiskClass.MODERATE, ("Not every criterion is answered",)
    return RiskClass.LOW, ("Every criterion of low risk holds",)


def _sentence(key: str, answers: Mapping[str, Any]) -> str:
    criterion, answer = BY_ID[key], answers[key]
    if criterion.limit is not None:
        return f"{criterion.asks} {answer:g} {criterion.limit.unit}"
    if criterion.kind == "symptoms":
        when = {
            Symptoms.HIGH_EFFORT: "at 7 METs or more",
            Symptoms.MIDDLE_EFFORT: "between 5 and 7 METs",
            Symptoms.LOW_EFFORT: "below 5 METs or in recovery",
        }
        return f"{criterion.asks}, {when[Symptoms(answer)]}"
    return criterion.asks


def _second_table(answers: Mapping[str, Any], risk_class: RiskClass) -> list[str]:
    """What the second table says, when it says more than the first."""
    nyha, lvef = answers.get("nyha_class"), answers.get("lvef_percent")
    high = [
        words
        for words, holds in [
            ("an implanted defibrillator", answers.get("icd")),
            ("NYHA III or IV", nyha is not None and nyha >= 3),
            ("LVEF below 40 %", lvef is not None and lvef < HIGH_RISK_LVEF_BELOW),
        ]
        if holds
    ]
    moderate = [
        words
        for words, holds in [
            ("a pacemaker", answers.get("pacemaker")),
            ("NYHA II", nyha == 2),
            ("LVEF 40 to 50 %", lvef is not None and HIGH_RISK_LVEF_BELOW <= lvef <= 50),
        ]
        if holds
    ]
    if high and risk_class is not RiskClass.HIGH:
        return [f"A second published table gives high risk: {', '.join(high)}."]
    if moderate and not high and risk_class is RiskClass.LOW:
        return [f"A second published table gives moderate risk: {', '.join(moderate)}."]
    return []


@dataclass(frozen=True)
class Supervision:
    """Usual supervision and ECG of a class: initial settings (from memory), edited per site."""

    supervised: tuple[int, int]  # sessions
    supervised_days: int
    ecg: tuple[int, int]  # sessions, continuous then intermittent


SUPERVISION = {
    RiskClass.LOW: Supervision((6, 18), 30, (6, 12)),
    RiskClass.MODERATE: Supervision((12, 24), 60, (12, 18)),
    RiskClass.HIGH: Supervision((18, 36), 90, (18, 30)),
}
SUPERVISION_SOURCE = "AACVPR-type stratification, from memory; local protocol and law come first"


def still_standing(answers: Mapping[str, Any], why_again: str) -> dict[str, Any]:
    """Earlier answers worth showing again.

    Parameters
    ----------
    answers : of the latest stratification, by criterion.
    why_again : why the class should be looked at again; empty when nothing happened since.

    Returns
    -------
    None of them after a new event or device; never those of a test, which is done anew.
    """
    if why_again:
        return {}
    of_test = {criterion.id for criterion in CRITERIA if criterion.is_of_test} | {"has_test"}
    return {key: value for key, value in answers.items() if key not in of_test}
