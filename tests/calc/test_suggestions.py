"""What follows from the background, each with its source."""

from datetime import date

import pytest

from patients.calc.suggestions import Background, suggestions
from programs.prescription.calc.ceilings import ceilings
from programs.prescription.calc.person import Known, Present

COMPLETE = {
    "has_medicines": True,
    "allergies_asked": True,
    "tobacco_asked": True,
    "emergency_contact_known": True,
    "mobility_asked": True,
}


def words(**known):
    return " ".join(s.words for s in suggestions(Background(**(COMPLETE | known))))


@pytest.mark.parametrize(
    ("known", "expected"),
    [
        ({"drug_classes": ["insulin"]}, "glucose before every session"),  # Colberg 2016
        ({"drug_classes": ["secretagogue"]}, "glucose before every session"),
        ({"drug_classes": ["beta_blocker"]}, "age-predicted"),
        ({"drug_classes": ["nitrate"]}, "Nitrate"),
        ({"drug_classes": ["anticoagulant"]}, "Anticoagulant"),
        ({"has_icd": True}, "lowest detection rate"),
        ({"recent_access": ["sternum"]}, "surgeon’s limits"),  # PMC3056839
        ({"recent_access": ["femoral"]}, "limits of the femoral"),
        ({"is_transplanted": True}, "rate lags"),
        ({"allergies_asked": False}, "Ask about allergies"),
        ({"emergency_contact_known": False}, "whom to call"),
        ({"tobacco_asked": False}, "tobacco"),
        ({"mobility_asked": False}, "walking aid"),
        ({"has_medicines": False}, "list of medicines"),
    ],
)
def test_what_was_entered_suggests(known, expected):
    assert expected in words(**known)


@pytest.mark.parametrize(
    "known",
    [
        {},
        {"has_icd": True, "icd_rate_known": True},
        {"recent_access": ["sternum"], "precautions": ["sternum"]},
        {"recent_access": ["other"]},
    ],
)
def test_nothing_is_suggested_without_cause(known):
    assert words(**known) == ""


def test_the_icd_margin_is_told_as_it_is_applied():
    """H-08, from memory: a prescription begins 10 below, 10 to 20 are in use."""
    (found,) = suggestions(Background(**(COMPLETE | {"has_icd": True})))
    present = Present(icd=True, detection_bpm=180)
    (limit,) = ceilings(Known(date(2027, 3, 1), present=present))
    assert limit.bpm == 170
    assert "stays at least 10 below it" in found.words
    assert "10 to 20 are in use" in found.source


def test_gaps_come_before_reminders():
    found = suggestions(
        Background(drug_classes=["insulin"], **(COMPLETE | {"tobacco_asked": False}))
    )
    assert [s.is_gap for s in found] == [True, False]
    assert all(s.source for s in found)
