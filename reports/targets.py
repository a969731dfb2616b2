"""A site's targets beside what the program's page counts."""

from collections.abc import Mapping
from dataclasses import dataclass

from reports.asking import Question
from reports.calc.proportion import Proportion
from reports.calc.retention import Level
from reports.models import SHARES, ProgramTargets


@dataclass(frozen=True)
class Beside:
    """A target and where the share stands."""

    percent: int
    words: str  # reached or not, and whether the interval leaves it open


def targets_of(question: Question) -> dict[str, int]:
    """What the one site asked about wants; several sites share no target.

    ``finished`` is left out where the page counts by another definition than the target does.
    """
    if len(question.asked.sites) != 1:
        return {}
    row = ProgramTargets.objects.filter(site__in=list(question.asked.sites)).first()
    if row is None:
        return {}
    found = {name: getattr(row, name) for name in SHARES}
    if row.finished_by != question.by.key:
        del found["finished"]
    return {name: percent for name, percent in found.items() if percent is not None}


def beside_all(
    question: Question, shares: Mapping[str, Proportion], week_12: Level | None
) -> dict[str, Beside]:
    """Each target beside its share; a share that may not be told has none."""
    wanted = targets_of(question)
    found = {
        name: judged(wanted[name], share.percent, *share.percent_interval)
        for name, share in shares.items()
        if name in wanted and share.percent is not None and share.percent_interval is not None
    }
    if "stayed" in wanted and week_12 and week_12.low is not None and week_12.high is not None:
        level = (100 * week_12.share, 100 * week_12.low, 100 * week_12.high)
        found["stayed"] = judged(wanted["stayed"], *level)
    return found


def judged(percent: int, value: float, low: float, high: float) -> Beside:
    """Where a value with its interval stands. [%]"""
    words = "reached" if value >= percent else "not reached"
    if low < percent <= high:
        words += ", but the interval leaves it open"
    return Beside(percent, words)
