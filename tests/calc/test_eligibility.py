"""Coverage rules A-01 to A-10 and the general set: fixtures/reference/eligibility.csv."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.enrolment.calc.eligibility import ConditionFacts, Outcome, add_months, assess
from programs.enrolment.calc.rule_sets import GENERAL, MEDICARE, SHIPPED
from tests.reference import rows

START = date(2026, 6, 15)
HF = ConditionFacts(
    kind="heart_failure",
    lvef_percent=30,
    nyha_class=2,
    therapy_since=START - timedelta(days=100),
    last_cv_stay_on=START - timedelta(days=100),
    is_procedure_planned=False,
)
YES_NO = {"yes": True, "no": False}


def facts_in(text: str) -> ConditionFacts:
    """ "kind=mi event=2025-06-15" as facts."""
    given = dict(part.split("=") for part in text.split())
    day = {k: date.fromisoformat(v) for k, v in given.items() if v[4:5] == "-" and len(v) == 10}
    return ConditionFacts(
        kind=given["kind"],
        event_on=day.get("event"),
        is_angina_stable=YES_NO.get(given.get("stable", "")),
        lvef_percent=float(given["lvef"]) if "lvef" in given else None,
        lvef_reported=given.get("reported", ""),
        nyha_class=int(given["nyha"]) if "nyha" in given else None,
        therapy_since=day.get("therapy"),
        last_cv_stay_on=day.get("stay"),
        has_had_cv_stay=False if "never" in given else None,
        planned_procedure_on=day.get("planned_on"),
        is_procedure_planned=YES_NO.get(given.get("planned", "")),
    )


@pytest.mark.parametrize("row", rows("eligibility"), ids=lambda r: f"{r['rule']} {r['facts']}")
def test_answer_is_the_rules(row):
    facts = [facts_in(text) for text in row["facts"].split(" + ")]
    found = assess(facts, date.fromisoformat(row["start"]), SHIPPED[row["rules"]])
    assert (found.outcome, found.limb) == (row["outcome"], row["limb"])
    assert (found.changes_on.isoformat() if found.changes_on else "") == row["changes_on"]
    assert bool(found.missing) == (row["outcome"] == "needs_information")


def test_every_rule_of_the_table_has_a_row():
    seen = {row["rule"] for row in rows("eligibility")}
    assert {f"A-{n:02}" for n in range(1, 11)} <= seen


def test_anniversary_is_flagged_for_the_payer():
    assert assess([ConditionFacts("mi", date(2025, 6, 15))], START).is_boundary
    assert not assess([ConditionFacts("mi", date(2025, 6, 16))], START).is_boundary


@pytest.mark.parametrize(
    ("gap", "asks"),
    [
        ({"lvef_percent": None}, "LVEF"),
        ({"lvef_percent": None, "lvef_reported": "35-40"}, "35-40"),
        ({"nyha_class": None}, "NYHA"),
        ({"therapy_since": None}, "therapy"),
        ({"last_cv_stay_on": None}, "hospital stay"),
        ({"is_procedure_planned": None}, "planned"),
    ],
)
def test_heart_failure_names_the_one_missing_item(gap, asks):
    found = assess([replace(HF, **gap)], START)
    assert found.outcome is Outcome.NEEDS_INFORMATION
    assert len(found.missing) == 1
    assert asks in found.missing[0]


def test_failing_heart_failure_says_when_waiting_would_help():
    short = replace(HF, therapy_since=START - timedelta(days=40))
    assert assess([short], START).changes_on == START + timedelta(days=2)
    assert assess([replace(short, lvef_percent=50)], START).changes_on is None


def test_of_two_that_meet_the_rule_the_lasting_one_decides():
    found = assess([ConditionFacts("mi", START), ConditionFacts("pci", START)], START)
    assert (found.limb, found.changes_on) == ("A-05", None)


def test_no_condition_needs_information():
    assert assess([], START).missing == ("qualifying condition",)


def test_no_answer_says_approved():
    for row in rows("eligibility"):
        found = assess(
            [facts_in(t) for t in row["facts"].split(" + ")], START, SHIPPED[row["rules"]]
        )
        assert "approv" not in found.reason.lower()


@given(event=st.dates(date(2020, 1, 1), date(2030, 12, 31)), after=st.integers(0, 800))
def test_the_answer_changes_on_the_day_it_says(event, after):
    start = event + timedelta(days=after)
    facts = [ConditionFacts("pci", event)]
    found = assess(facts, start, GENERAL)
    if found.changes_on is not None:
        assert assess(facts, found.changes_on - timedelta(days=1), GENERAL).outcome == "eligible"
        assert assess(facts, found.changes_on, GENERAL).outcome == "not_eligible"


@given(planned=st.dates(date(2026, 1, 1), date(2030, 12, 31)), ahead=st.integers(0, 500))
def test_a_planned_procedure_turns_the_answer_on_the_day_it_says(planned, ahead):
    start = planned - timedelta(days=ahead)
    far_back = date(2024, 1, 1)
    facts = [replace(HF, planned_procedure_on=planned, therapy_since=far_back)]
    facts = [replace(facts[0], last_cv_stay_on=far_back)]
    found = assess(facts, start, MEDICARE)
    if found.outcome is Outcome.ELIGIBLE:
        assert found.changes_on is not None
        day = found.changes_on
        assert assess(facts, day - timedelta(days=1)).outcome is Outcome.ELIGIBLE
        assert assess(facts, day).outcome is Outcome.NOT_ELIGIBLE


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


def test_a_set_that_covers_heart_failure_from_no_day_asks_for_none():
    open_ended = replace(MEDICARE, heart_failure_from=None)
    assert assess([HF], START, open_ended).outcome == Outcome.ELIGIBLE
    early = date(2013, 6, 1)  # before the coverage of A-07 began
    then = replace(HF, therapy_since=date(2012, 1, 1), last_cv_stay_on=date(2012, 1, 1))
    assert assess([then], early, MEDICARE).outcome != Outcome.ELIGIBLE
    assert assess([then], early, open_ended).outcome == Outcome.ELIGIBLE


@given(st.dates(date(2026, 1, 1), date(2028, 3, 1)), st.integers(1, 12))
def test_the_last_start_before_a_planned_procedure_is_the_last(planned, months):
    """Months end with the month, so counting back and forth need not meet."""
    from programs.enrolment.calc.eligibility import _last_start_before

    day = _last_start_before(planned, months)
    assert add_months(day, months) < planned
    assert add_months(day + timedelta(days=1), months) >= planned
