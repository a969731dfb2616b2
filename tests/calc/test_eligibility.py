"""Rules A-01 to A-08: 42 CFR 410.49(b)(1) and NCD 20.10.1, both sides of each boundary."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from programs.enrolment.calc.eligibility import ConditionFacts, Outcome, add_months, assess

START = date(2026, 6, 15)
HF = ConditionFacts(
    kind="heart_failure",
    lvef_percent=30,
    nyha_class=2,
    therapy_since=START - timedelta(days=100),
    last_cv_stay_on=START - timedelta(days=100),
    is_procedure_planned=False,
)


def judged(*facts):
    return assess(facts, START)


@pytest.mark.parametrize(
    ("event", "outcome", "boundary"),
    [
        (date(2025, 6, 16), Outcome.ELIGIBLE, False),
        (date(2025, 6, 15), Outcome.ELIGIBLE, True),  # the anniversary: inside, confirm with payer
        (date(2025, 6, 14), Outcome.NOT_ELIGIBLE, False),
        (START, Outcome.ELIGIBLE, False),
    ],
)
def test_heart_attack_counts_for_twelve_months(event, outcome, boundary):
    found = judged(ConditionFacts("mi", event))
    assert (found.outcome, found.is_boundary, found.limb) == (outcome, boundary, "A-01")


def test_heart_attack_says_when_the_answer_changes():
    assert judged(ConditionFacts("mi", date(2025, 9, 1))).changes_on == date(2026, 9, 2)


def test_heart_attack_on_a_leap_day_ends_with_february():
    facts = ConditionFacts("mi", date(2024, 2, 29))
    assert assess([facts], date(2025, 2, 28)).outcome is Outcome.ELIGIBLE
    assert assess([facts], date(2025, 3, 1)).outcome is Outcome.NOT_ELIGIBLE


def test_heart_attack_without_date_needs_it():
    found = judged(ConditionFacts("mi"))
    assert (found.outcome, found.missing) == (Outcome.NEEDS_INFORMATION, ("event date",))


@pytest.mark.parametrize(
    ("kind", "limb"), [("cabg", "A-02"), ("valve", "A-04"), ("pci", "A-05"), ("transplant", "A-06")]
)
def test_operations_have_no_time_limit(kind, limb):
    for event in (None, START, date(1999, 1, 1)):
        found = judged(ConditionFacts(kind, event))
        assert (found.outcome, found.limb) == (Outcome.ELIGIBLE, limb)


def test_event_after_the_start_asks_for_a_correct_date():
    found = judged(ConditionFacts("cabg", START + timedelta(days=1)))
    assert found.outcome is Outcome.NEEDS_INFORMATION


@pytest.mark.parametrize(
    ("stable", "outcome"),
    [(True, Outcome.ELIGIBLE), (False, Outcome.NOT_ELIGIBLE), (None, Outcome.NEEDS_INFORMATION)],
)
def test_angina_must_be_current_and_stable(stable, outcome):
    assert judged(ConditionFacts("stable_angina", is_angina_stable=stable)).outcome is outcome


def test_heart_failure_with_every_limb_is_eligible():
    assert judged(HF).outcome is Outcome.ELIGIBLE


@pytest.mark.parametrize(
    ("change", "outcome"),
    [
        ({"lvef_percent": 35}, Outcome.ELIGIBLE),  # 35 % or less
        ({"lvef_percent": 35.1}, Outcome.NOT_ELIGIBLE),
        ({"lvef_percent": 36}, Outcome.NOT_ELIGIBLE),
        ({"nyha_class": 1}, Outcome.NOT_ELIGIBLE),  # NYHA II to IV
        ({"nyha_class": 4}, Outcome.ELIGIBLE),
        ({"therapy_since": START - timedelta(days=42)}, Outcome.ELIGIBLE),  # six weeks or more
        ({"therapy_since": START - timedelta(days=41)}, Outcome.NOT_ELIGIBLE),
        ({"last_cv_stay_on": START - timedelta(days=43)}, Outcome.ELIGIBLE),
        (
            {"last_cv_stay_on": START - timedelta(days=42)},
            Outcome.NOT_ELIGIBLE,
        ),  # six weeks or less
        ({"is_procedure_planned": True}, Outcome.NOT_ELIGIBLE),
        ({"planned_procedure_on": date(2026, 12, 15)}, Outcome.NOT_ELIGIBLE),  # six months or less
        ({"planned_procedure_on": date(2026, 12, 16)}, Outcome.ELIGIBLE),
    ],
)
def test_heart_failure_limbs_at_their_boundaries(change, outcome):
    assert judged(replace(HF, **change)).outcome is outcome


@pytest.mark.parametrize(
    "name",
    ["lvef_percent", "nyha_class", "therapy_since", "last_cv_stay_on", "is_procedure_planned"],
)
def test_heart_failure_with_a_limb_unanswered_needs_information(name):
    found = judged(replace(HF, **{name: None}))
    assert found.outcome is Outcome.NEEDS_INFORMATION
    assert len(found.missing) == 1


def test_failing_heart_failure_says_when_waiting_would_help():
    short = replace(HF, therapy_since=START - timedelta(days=40))
    assert judged(short).changes_on == START + timedelta(days=2)
    assert judged(replace(short, lvef_percent=50)).changes_on is None


def test_the_most_favourable_condition_decides():
    found = judged(replace(HF, lvef_percent=60), ConditionFacts("pci", START))
    assert (found.outcome, found.limb) == (Outcome.ELIGIBLE, "A-05")


def test_unknown_wording_and_no_condition_need_information():
    assert judged(ConditionFacts("unclear")).outcome is Outcome.NEEDS_INFORMATION
    assert judged().outcome is Outcome.NEEDS_INFORMATION


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2026, 12, 15), 1, date(2027, 1, 15)),
    ],
)
def test_months_end_with_the_month(day, months, expected):
    assert add_months(day, months) == expected
