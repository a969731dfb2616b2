"""What a plan says of each core component, how it is stored, and what it still lacks.

A component has boxes that the team fills in, and three that the program fills from the record
alone: what was found, what was taught, how the goals stand; which boxes there are: project choice.
What a plan must have: 42 CFR 410.49(b)(2), as quoted by the decision memo to NCD 20.10.1.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from patients.calc.days import in_words
from programs.review.calc.components import COMPONENTS, PSYCHOSOCIAL
from programs.review.calc.differences import Row
from programs.review.calc.goals import GOAL_OF

# Key of the box, its heading. The program's own are written anew at each save.
BOXES = {
    "found": "On record",
    "assessment": "Assessment",
    "family": "Family and home",
    "intervention": "What is done",
    "taught": "Taught",
    "education": "Education",
    "standing": "Goals so far",
    "progress": "Progress",
}
OF_THE_PROGRAM = ("found", "taught", "standing")
NOTHING_FOUND = "Not on record"  # how the program says so, at the end of what it found or alone


@dataclass(frozen=True)
class Part:
    """One component of one plan. ``amounts`` are its measured goals, by key of ``goals.py``."""

    applies: bool = True
    found: str = ""
    assessment: str = ""
    family: str = ""  # of the psychosocial part alone
    goal: str = ""
    amounts: Mapping[str, float] = field(default_factory=dict)
    by_on: date | None = None
    intervention: str = ""
    taught: str = ""
    education: str = ""
    standing: str = ""
    progress: str = ""

    @property
    def goal_words(self) -> str:
        """The measured goals, the goal in words and the day; "" when there is none."""
        measured = [GOAL_OF[key].words(amount) for key, amount in self.amounts.items()]
        words = "; ".join([*measured, *([self.goal] if self.goal else [])])
        return f"{words}, by {in_words(self.by_on)}" if words and self.by_on else words

    @property
    def has_goal(self) -> bool:
        """A goal is set, measured or in words."""
        return bool(self.amounts or self.goal.strip())


def stored(part: Part) -> dict[str, Any]:
    """A part as it is stored.

    Parameters
    ----------
    part : any part.

    Returns
    -------
    Plain values by name, without what is empty; the day as 2026-11-27.
    """
    plain = {
        **{name: getattr(part, name).strip() for name in [*BOXES, "goal"]},
        "amounts": dict(part.amounts),
        "by_on": part.by_on.isoformat() if part.by_on else "",
        "applies": part.applies,
    }
    return {name: value for name, value in plain.items() if value not in ("", {}, True)}


def read(plain: Mapping[str, Any]) -> Part:
    """A part from what is stored; a goal that is no longer known is left out.

    Parameters
    ----------
    plain : values by name, as ``stored`` gives them.

    Returns
    -------
    The part.
    """
    values = dict(plain)
    by_on = values.pop("by_on", "")
    amounts = {k: v for k, v in values.pop("amounts", {}).items() if k in GOAL_OF}
    return Part(amounts=amounts, by_on=date.fromisoformat(by_on) if by_on else None, **values)


def read_all(content: Mapping[str, Any]) -> dict[str, Part]:
    """Every component of a stored plan, in order; what is not stored is empty.

    Parameters
    ----------
    content : the stored plan; its parts by key of the component.

    Returns
    -------
    A part for each component.
    """
    parts = content.get("components", {})
    return {one.key: read(parts.get(one.key, {})) for one in COMPONENTS}


def from_before(exercise: str, psychosocial: str) -> dict[str, Part]:
    """The parts of a version from before components, which had texts of its own.

    Parameters
    ----------
    exercise, psychosocial : what stood in these boxes.

    Returns
    -------
    A part for each component; these texts are what is done in theirs.
    """
    texts = {"exercise": exercise, PSYCHOSOCIAL: psychosocial}
    return {one.key: Part(intervention=texts.get(one.key, "")) for one in COMPONENTS}


def rows_of(key: str, name: str, part: Part) -> list[Row]:
    """The lines of one component, each with its key.

    Parameters
    ----------
    key, name : of the component.
    part : what the plan says of it.

    Returns
    -------
    Lines in the order of the page: the goal first. Empty ones too, but for those that only the
    psychosocial part has.
    """
    rows = [Row(f"{key}.goal", f"{name}: goal", part.goal_words)]
    if not part.applies:
        rows.append(Row(f"{key}.applies", name, "does not apply"))
    for box, heading in BOXES.items():
        if box == "family" and key != PSYCHOSOCIAL:
            continue
        rows.append(Row(f"{key}.{box}", f"{name}: {heading.lower()}", getattr(part, box)))
    return rows


@dataclass(frozen=True)
class Facts:
    """What stands beside the parts; outcomes are assessed at least at the start and at the end."""

    diagnosis: str
    has_prescription: bool
    has_baseline: bool
    has_exit: bool = False
    is_ending: bool = False


def missing_parts(facts: Facts, parts: Mapping[str, Part]) -> list[str]:
    """What a plan lacks.

    Parameters
    ----------
    facts : what stands beside its parts; text of nothing but space counts as none.
    parts : what it says of each component.

    Returns
    -------
    What is missing in words, in the order of the rule and of the components; the assessment at the
    end only while ending. A component that does not apply lacks nothing but why.
    """
    found = [
        words
        for words, is_there in [
            ("the diagnosis", bool(facts.diagnosis.strip())),
            ("an exercise prescription: type, amount, frequency, duration", facts.has_prescription),
            ("the outcomes assessment at the start", facts.has_baseline),
            ("the outcomes assessment at the end", facts.has_exit or not facts.is_ending),
        ]
        if not is_there
    ]
    for one in COMPONENTS:
        lacks = _lacks(parts.get(one.key, Part()), is_psychosocial=one.key == PSYCHOSOCIAL)
        if lacks:
            found.append(f"{one.name}: {', '.join(lacks)}")
    return found


def _lacks(part: Part, *, is_psychosocial: bool) -> list[str]:
    if not part.applies:
        return [] if part.assessment.strip() else ["why it does not apply"]
    said = [
        ("assessment", bool(part.assessment.strip() or _is_found(part))),
        ("family and home", bool(part.family.strip()) or not is_psychosocial),
        ("goal", part.has_goal),
        ("day of the goal", part.by_on is not None or not part.has_goal),
        ("what is done", bool(part.intervention.strip())),
    ]
    return [words for words, is_there in said if not is_there]


def _is_found(part: Part) -> bool:
    return bool(part.found) and not part.found.startswith(NOTHING_FOUND)
