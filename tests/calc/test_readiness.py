"""Readiness against the texts named beside each check."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from programs.staff.calc.readiness import (
    ITEMS,
    Card,
    Facts,
    card_state,
    drill_is_due,
    readiness,
    staff_needed,
)

DAY = date(2026, 11, 25)
CARDS = [
    Card(1, "BLS", date(2027, 5, 1)),
    Card(1, "ACLS", date(2027, 5, 1)),
    Card(2, "BLS", date(2027, 5, 1)),
]
READY = Facts(
    on=DAY,
    n_people=8,
    staff={1: "Okafor", 2: "Brandvold"},
    cards=CARDS,
    supervisor="Lindqvist",
    check={key: True for key, _, _ in ITEMS},
    last_drill_on=date(2026, 10, 1),
)


def ids(facts):
    return [u.rule_id for u in readiness(facts).unmet]


def test_nothing_is_missing_when_all_is_there():
    assert ids(READY) == []


@pytest.mark.parametrize(
    ("people", "staff"), [(0, 2), (1, 2), (5, 2), (10, 2), (11, 3), (15, 3), (16, 4)]
)  # 105 CMR 143.009: one to five, at least two
def test_staff_for_people(people, staff):
    assert staff_needed(people, 5, 2) == staff


def test_too_few_staff_is_said_with_the_numbers():
    (unmet,) = readiness(replace(READY, n_people=11)).unmet
    assert unmet.rule_id == "J-01"
    assert "2 staff for 11 people" in unmet.sentence


def test_supervisor_is_asked_for():
    assert ids(replace(READY, supervisor="")) == ["A-32"]


def test_everybody_has_life_support_and_somebody_advanced():
    # 105 CMR 143.009: everybody BLS, a nurse with ACLS at each session
    assert ids(replace(READY, cards=CARDS[:2])) == ["J-02"]
    assert ids(replace(READY, cards=[CARDS[0], CARDS[2]])) == ["J-02"]
    over = [replace(card, expires_on=DAY - timedelta(days=1)) for card in CARDS]
    assert ids(replace(READY, cards=over)) == ["J-02", "J-02", "J-02"]


def test_advanced_life_support_covers_the_basic_card():
    assert ids(replace(READY, cards=[CARDS[1], CARDS[2]])) == []


@pytest.mark.parametrize(
    ("days", "state"), [(-1, "expired"), (0, "soon"), (60, "soon"), (61, "valid")]
)  # common practice, no source: warn within 60 days; a card holds through its last day
def test_card_state(days, state):
    assert card_state(DAY + timedelta(days=days), DAY) == state


def test_check_not_done_and_items_not_in_order_are_told_apart():
    assert ids(replace(READY, check=None)) == ["J-04"]
    check = dict(READY.check or {})
    del check["oxygen"]
    check["defibrillator"] = False
    words = readiness(replace(READY, check=check)).sentences
    assert words == [
        "Defibrillator tested: not in order. (J-04)",
        "Oxygen full, masks there: not checked. (J-04)",
    ]


@pytest.mark.parametrize(("days", "due"), [(92, False), (93, True)])
def test_drill_at_least_every_quarter(days, due):  # 105 CMR 143.013
    assert drill_is_due(DAY - timedelta(days=days), DAY) is due


def test_no_drill_on_record_is_due():
    assert ids(replace(READY, last_drill_on=None)) == ["J-03"]
