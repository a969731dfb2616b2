"""The answer in a few sentences, from the verdicts alone (words: a project choice)."""

from collections.abc import Sequence
from dataclasses import dataclass

from reports.calc.change import STAGE_NAMES, STAGES
from reports.calc.scale import is_on_scale
from reports.calc.summary import NOT_YET, Courses, Held, OutcomeLine, why_missing
from reports.calc.verdict import Weight


@dataclass(frozen=True)
class Part:
    """A piece of the headline."""

    words: str
    is_strong: bool = False


# Which lines, by weight and word, and what is said of them.
SAID = (
    (Weight.MEANINGFUL, "better", "improved by a meaningful amount"),
    (
        Weight.IN_ERROR,
        "better",
        "better, as much as has mattered to patients; measuring twice can differ by as much",
    ),
    (Weight.MEANINGFUL, "worse", "became worse by a meaningful amount"),
    (
        Weight.IN_ERROR,
        "worse",
        "worse, as much as has mattered to patients; measuring twice can differ by as much",
    ),
)


def headline(
    lines: Sequence[OutcomeLine], stage: str, *, n_counted: int, n_planned: int, lacking: str
) -> list[Part]:
    """The answer in a few sentences, from the verdicts alone.

    Parameters
    ----------
    lines : every line of the page.
    stage : what it is about, "six_weeks" or "exit".
    n_counted, n_planned : sessions.
    lacking : what is missing and why, in words; "" when nothing is.

    Returns
    -------
    Pieces in order, some of them strong.
    """
    parts = [Part(f"{n_counted} of {n_planned} sessions.", True)]
    compared = [line for line in lines if line.verdict is not None]
    if not compared:
        parts.append(Part("Nothing can be compared with the baseline yet."))
    else:
        parts.append(Part("Baseline to exit:" if stage == "exit" else "Baseline to six weeks:"))
    for weight, word, said in SAID:
        those = [o for o in compared if o.verdict.weight is weight and o.word == word]  # type: ignore[union-attr]
        parts += _said(those, said)
    small = {Weight.NONE, Weight.SMALL}
    alike = [o for o in compared if is_on_scale(o.measure) and o.verdict.weight in small]  # type: ignore[union-attr]
    parts += _said(alike, "did not change by as much as matters")
    apart = [o for o in compared if o.verdict.weight is Weight.NOT_COMPARED]  # type: ignore[union-attr]
    parts += _said(apart, "cannot be compared with the baseline")
    parts += _goals_said(lines, stage)
    if lacking:
        where = "Missing at exit:" if stage == "exit" else "Missing:"
        parts += [Part(where, True), Part(f"{lacking}.")]
    return parts


def _said(lines: Sequence[OutcomeLine], said: str) -> list[Part]:
    if not lines:
        return []
    names = _names([line.measure.name for line in lines])
    return [Part(names[0].upper() + names[1:]), Part(f"{said}.", True)]


def _names(names: Sequence[str]) -> str:
    """In the middle of a sentence; an abbreviation keeps its capitals."""
    names = [name[0].lower() + name[1:] if name[1:2].islower() else name for name in names]
    return ", ".join(names[:-1]) + " and " + names[-1] if len(names) > 1 else "".join(names)


def _goals_said(lines: Sequence[OutcomeLine], stage: str) -> list[Part]:
    n = STAGES.index(stage)
    goals = [goal for line in lines for goal in line.goals]
    parts = []
    for is_met, said in ((True, "Goals met:"), (False, "Goals not met:")):
        names = [goal.words for goal in goals if goal.met[n] is is_met]
        if names:
            parts += [Part(said, True), Part(f"{', '.join(names)}.")]
    return parts


def lacking(lines: Sequence[OutcomeLine], held: Courses, stage: str, *, is_open: bool) -> list[str]:
    """What is missing at a stage, each with its reason.

    Parameters
    ----------
    lines : every line of the page.
    held : what is known of each stage.
    stage : what the page is about.
    is_open : whether the course still goes on.

    Returns
    -------
    Names with reasons; a stage missing whole is one entry, one that can still come none.
    """
    n, whole = STAGES.index(stage), held.get(stage, Held())
    if whole.performed_on is None and not any(line.stages[n].value for line in lines):
        why = why_missing(held.get(stage), "", is_open=is_open)
        return [] if why == NOT_YET else [f"the whole {STAGE_NAMES[stage].lower()} ({why})"]
    gone = [line for line in lines if line.stages[n].is_missing]
    return [f"{line.measure.name} ({line.stages[n].why})" for line in gone]
