"""What to measure and ask of somebody before exercise, told beforehand by the rules themselves.

Nothing is typed anew here: whatever the rules would name as missing from an empty sheet is asked
for. That and the order are project choices.
"""

from functools import cache

from programs.attendance.calc.catalogue import RULES
from programs.attendance.calc.levels import Phase
from programs.attendance.calc.questions import ASKED_BEFORE, applies_to
from programs.attendance.calc.rules import evaluate
from programs.attendance.calc.situation import Known, Situation

QUESTIONS = "the questions before exercise"  # named one by one instead


@cache
def _asked(known_groups: frozenset[str], *, has_screen: bool) -> tuple[str, ...]:
    known = Known(
        uses_insulin="insulin" in known_groups,
        has_diabetes="diabetes" in known_groups,
        has_heart_failure="heart failure" in known_groups,
        has_icd="icd" in known_groups,
    )
    rules = [rule for rule in RULES if not (has_screen and rule.is_of_record)]
    missing = evaluate(rules, Situation(known=known)).missing
    measured = [m.asks_for for m in missing if m.phase is Phase.BEFORE and m.asks_for != QUESTIONS]
    asked = [q.asks for q in ASKED_BEFORE if applies_to(q, groups=known_groups)]
    return tuple(dict.fromkeys([*measured, *asked]))


def asked_of_everybody() -> tuple[str, ...]:
    """What is measured and asked before exercise whoever it is.

    Returns
    -------
    Readings first, then the questions, each once.
    """
    return _asked(frozenset(), has_screen=True)


def asked_beside(groups: frozenset[str], *, has_screen: bool) -> tuple[str, ...]:
    """What is measured and asked of somebody in these groups beside what everybody is asked.

    Parameters
    ----------
    groups : the person's groups, as ``Known.groups`` gives them.
    has_screen : whether an entry screen counts, answered since the last event; without one it is
        asked for first.

    Returns
    -------
    Readings first, then the questions, each once; empty when there is nothing more.
    """
    usual = set(asked_of_everybody())
    return tuple(words for words in _asked(groups, has_screen=has_screen) if words not in usual)
