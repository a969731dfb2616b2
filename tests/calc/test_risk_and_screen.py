"""Risk class (D), entry screen (E), course limits (A-12 to A-20): both sides of every cut."""

from datetime import date

import pytest

from patients.calc.limits import OutOfRange
from programs.attendance.calc.counting import session_code, sessions_of_day
from programs.enrolment.calc.calendar import (
    COUNTED_A_DAY,
    SESSIONS,
    NoRoomInCourse,
    WeeklyClass,
    last_course_day,
    plan_sessions,
)
from programs.enrolment.calc.risk import (
    BY_ID,
    CRITERIA,
    SUPERVISION,
    RiskClass,
    still_standing,
    stratify,
)
from programs.enrolment.calc.screen import NAMES, QUESTIONS, READINGS, Found, screen, told
from tests.reference import rows

LOW = {
    "test_arrhythmia": False,
    "test_symptoms": "none",
    "st_depression_mm": 0,
    "abnormal_haemodynamics": False,
    "capacity_mets": 8,
    "lvef_percent": 55,
    "rest_arrhythmia": False,
    "complicated": False,
    "heart_failure": False,
    "ischaemia_after": False,
    "arrest": False,
    "icd": False,
    "depression": False,
}


def value(cell: str):
    if cell in {"yes", "no", ""}:
        return {"yes": True, "no": False, "": None}[cell]
    try:
        return float(cell)
    except ValueError:
        return cell


def pairs(text: str) -> dict:
    return {k: value(v) for k, v in (part.split("=") for part in text.split())}


@pytest.mark.parametrize("row", rows("risk_class"), ids=lambda r: f"{r['rule']} {r['changes']}")
def test_class_is_the_tables(row):
    has_test = row["test"] == "yes"
    answers = LOW | pairs(row["changes"])
    if not has_test:
        answers = {k: v for k, v in answers.items() if not BY_ID[k].is_of_test}
    found = stratify(answers, has_test=has_test)
    assert found.risk_class == row["class"]
    assert found.is_without_test is not has_test
    assert bool(found.missing) == any(v is None for v in answers.values())


@pytest.mark.parametrize("criterion", CRITERIA, ids=lambda c: c.id)
def test_each_unanswered_criterion_is_named_and_never_low(criterion):
    found = stratify(LOW | {criterion.id: None}, has_test=True)
    assert found.missing == (criterion.asks,)
    assert found.risk_class is RiskClass.MODERATE


def test_nothing_answered_is_moderate_with_everything_missing():
    found = stratify({}, has_test=True)
    assert found.risk_class is RiskClass.MODERATE
    assert len(found.missing) == len(CRITERIA)


def test_what_decided_is_said():
    found = stratify(LOW | {"lvef_percent": 38, "icd": True}, has_test=True)
    assert found.deciding == ("LVEF 38 %", "Implanted defibrillator")


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"nyha_class": 3}, "high risk: NYHA III or IV"),
        ({"nyha_class": 2}, "moderate risk: NYHA II"),
        ({"pacemaker": True}, "moderate risk: a pacemaker"),
        ({"lvef_percent": 50}, "moderate risk: LVEF 40 to 50"),
        ({"lvef_percent": 50.1}, ""),
        ({"nyha_class": 1}, ""),
    ],
)
def test_second_table_is_remarked_upon(more, words):
    """D-06: eacpr.org acpr-1-1-6, Table 4; it decides nothing."""
    found = stratify(LOW | more, has_test=True)
    assert found.risk_class is RiskClass.LOW
    assert words in " ".join(found.remarks)
    assert bool(found.remarks) == bool(words)


def test_impossible_number_is_refused():
    with pytest.raises(OutOfRange):
        stratify(LOW | {"capacity_mets": 40}, has_test=True)


@pytest.mark.parametrize("row", rows("supervision"), ids=lambda r: r["rule"])
def test_supervision_of_a_class(row):
    usual = SUPERVISION[RiskClass(row["class"])]
    assert usual.supervised == (int(row["supervised_low"]), int(row["supervised_high"]))
    assert usual.supervised_days == int(row["days"])
    assert usual.ecg == (int(row["ecg_low"]), int(row["ecg_high"]))


CALM = {question.id: False for question in QUESTIONS} | {
    "E-01": 130, "E-02": 80, "E-04": 70, "E-18": 97, "E-03": 5, "E-10": 0.3,
}  # fmt: skip


@pytest.mark.parametrize(
    "row", rows("entry_screen"), ids=lambda r: f"{r['criterion']} {r['answers']}"
)
def test_screen_finds_what_its_source_says(row):
    found = screen(CALM | pairs(row["answers"]))
    assert found.found == row["expected"]
    if row["expected"] != "nothing":
        assert found.findings[0][0] == row["expected"]


def test_every_criterion_of_the_screen_has_a_row():
    assert {row["criterion"] for row in rows("entry_screen")} == set(NAMES)


@pytest.mark.parametrize(
    ("sentence", "words", "key"),
    [
        ("Systolic pressure at rest 170 mmHg (E-01)", "Systolic pressure at rest 170 mmHg", "E-01"),
        ("Severe (old) lesion (E-08b)", "Severe (old) lesion", "E-08b"),
        ("Something of a list that is gone (Z-99)", "Something of a list that is gone (Z-99)", ""),
        ("No criterion", "No criterion", ""),
        ("(E-01)", "(E-01)", ""),
    ],
)
def test_a_stored_finding_is_told_apart_from_its_criterion(sentence, words, key):
    found = told(sentence)
    assert (found.words, found.key) == (words, key)
    assert bool(found.source) is bool(key)


@pytest.mark.parametrize("key", sorted(NAMES))
def test_unanswered_criterion_stays_open(key):
    found = screen(CALM | {key: None})
    assert found.unanswered == (key,)
    assert found.found is Found.OPEN


def test_empty_screen_is_open_not_clear():
    found = screen({})
    assert found.found is Found.OPEN
    assert len(found.unanswered) == len(READINGS) + len(QUESTIONS)


def test_weight_gain_is_asked_in_heart_failure_only():
    answers = {k: v for k, v in CALM.items() if k != "E-10"}
    assert screen(answers, has_heart_failure=False).found is Found.NOTHING
    assert screen(answers, has_heart_failure=True).unanswered == ("E-10",)


def test_worst_finding_comes_first():
    found = screen(CALM | {"E-04": 105, "E-07": True})
    assert [level for level, _, _ in found.findings] == [Found.HOLD, Found.CAUTION]


@pytest.mark.parametrize(
    "row", [r for r in rows("course_limits") if "minutes" in r["given"]], ids=lambda r: r["given"]
)
def test_minutes_make_sessions(row):
    given = pairs(row["given"])
    found = sessions_of_day(given["minutes"], has_exercised=given.get("exercise", True))
    assert found == int(row["expected"])


@pytest.mark.parametrize("row", [r for r in rows("course_limits") if r["rule"] == "A-18"])
def test_session_code(row):
    assert session_code(pairs(row["given"])["ecg"]) == row["expected"]


@pytest.mark.parametrize("row", [r for r in rows("course_limits") if r["rule"] == "A-20"])
def test_last_day_of_36_weeks(row):
    first = date.fromisoformat(row["given"].split("=")[1])
    assert last_course_day(first).isoformat() == row["expected"]


def test_intensive_program_is_not_this_one():
    """A-17: up to six sessions a day and 72 in 18 weeks is another benefit (42 CFR 410.49)."""
    assert (COUNTED_A_DAY, SESSIONS) == (2, 36)
    with pytest.raises(NoRoomInCourse):
        plan_sessions(date(2026, 1, 5), [WeeklyClass(n, 0) for n in range(3)], [])


def test_earlier_answers_stand_but_for_a_tests_and_after_a_new_event():
    answers = {"lvef_percent": "45", "has_test": True, "capacity_mets": "6.1", "icd": False}
    assert still_standing(answers, "") == {"lvef_percent": "45", "icd": False}
    assert still_standing(answers, "a new event") == {}
