"""What is asked of whom before exercise: as the rules and the questions say, told beforehand."""

import pytest

from programs.attendance.calc.asking import asked_beside, asked_of_everybody
from programs.attendance.calc.questions import ASKED_BEFORE


def test_everybody_is_measured_and_asked_the_questions_for_everybody():
    asked = asked_of_everybody()
    assert asked[:3] == ("blood pressure", "heart rate", "oxygen saturation")
    assert {q.asks for q in ASKED_BEFORE if not q.only} <= set(asked)
    assert not {q.asks for q in ASKED_BEFORE if q.only} & set(asked)
    assert len(asked) == len(set(asked))


@pytest.mark.parametrize(
    ("groups", "words"),
    [
        ({"insulin", "diabetes"}, ["glucose, asked for because insulin", "Glucose so low"]),
        ({"diabetes"}, ["glucose, asked for because of diabetes"]),
        ({"heart failure"}, ["weight, and a weight", "Effort tolerance"]),
        ({"icd"}, ["Shock from the defibrillator"]),
        (set(), []),
    ],
)
def test_some_are_asked_more(groups, words):
    beside = asked_beside(frozenset(groups), has_screen=True)
    assert len(beside) == len(words)
    for said, wanted in zip(beside, words, strict=True):
        assert said.startswith(wanted)


def test_without_an_entry_screen_that_counts_it_is_asked_for():
    assert asked_beside(frozenset(), has_screen=False) == ("the entry screen",)
    both = asked_beside(frozenset({"icd"}), has_screen=False)
    assert set(both) == {"the entry screen", "Shock from the defibrillator"}
