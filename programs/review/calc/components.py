"""The parts a cardiac rehabilitation program must provide, and which of them a plan still lacks.

Physician-prescribed exercise, cardiac risk-factor modification, psychosocial assessment, outcomes
assessment, and an individualized treatment plan with diagnosis, kind and amount of services and
goals.

References
----------
42 CFR 410.49(b)(2), as quoted by the decision memo to NCD 20.10.1 and local coverage texts.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Parts:
    """What is on record; outcomes are assessed at least at the start and at the end."""

    has_prescription: bool
    risk_factors: str
    psychosocial: str
    has_baseline: bool
    diagnosis: str
    exercise: str
    goals: str
    has_exit: bool = False
    is_ending: bool = False


def missing_parts(parts: Parts) -> list[str]:
    """What the plan lacks.

    Parameters
    ----------
    parts : what is on record; text of nothing but space counts as none.

    Returns
    -------
    Missing parts in words, in the order of the rule; the assessment at the end only while ending.
    """
    return [
        words
        for words, is_there in [
            ("an exercise prescription", parts.has_prescription),
            ("risk factors and what is done about them", bool(parts.risk_factors.strip())),
            ("the psychosocial assessment", bool(parts.psychosocial.strip())),
            ("the outcomes assessment at the start", parts.has_baseline),
            ("the outcomes assessment at the end", parts.has_exit or not parts.is_ending),
            ("the diagnosis", bool(parts.diagnosis.strip())),
            ("kind and amount of exercise", bool(parts.exercise.strip())),
            ("goals", bool(parts.goals.strip())),
        ]
        if not is_there
    ]
