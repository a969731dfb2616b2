"""What rules asked for and did not get: named at start and finish, passed by with a reason."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.core.exceptions import ValidationError

from patients.history import save_as
from programs.attendance.calc.levels import Phase
from programs.attendance.calc.rules import Missing
from programs.attendance.models import NotTaken, Visit
from programs.staff.models import User

DECIDES = "attendance.decide_hold"
REST = ""  # the reason of everything that has none of its own


@dataclass(frozen=True)
class Lacking:
    """One thing to take, with the rules that wait for it."""

    what: str
    rule_ids: tuple[str, ...]
    needs_clinician: bool

    @property
    def words(self) -> str:
        return f"{self.what} ({', '.join(self.rule_ids)})"


class StillLacking(ValidationError):
    """A step goes on only when everything it passes by has a reason; nothing is stored."""

    def __init__(self, lacking: list[Lacking]) -> None:
        super().__init__("Write why each was not taken.")
        self.lacking = lacking


def lacking_at(visit: Visit, missing: Iterable[Missing], step: str) -> list[Lacking]:
    """What a step passes by without a reason on record: before exercise, or of the session."""
    wanted = {Phase.BEFORE} if step == NotTaken.Step.START else set(Phase)
    known = set(visit.not_taken.values_list("what", flat=True)) if visit.pk else set()
    found: dict[str, list[Missing]] = {}
    for m in missing:
        if m.phase in wanted and m.asks_for not in known:
            found.setdefault(m.asks_for, []).append(m)
    return [
        Lacking(
            what,
            tuple(dict.fromkeys(m.rule_id for m in group)),
            any(m.needs_clinician for m in group),
        )
        for what, group in found.items()
    ]


def pass_by(
    visit: Visit,
    lacking: Iterable[Lacking],
    step: str,
    reasons: Mapping[str, str],
    decided_by: str,
    *,
    by: User,
) -> list[Lacking]:
    """Keep why things were not taken, and return those that still need a reason or a clinician.

    ``reasons`` are by what was not taken; ``REST`` is that of everything without its own. Nothing
    is kept while one is left.
    """
    may = by.has_perm(DECIDES) or bool(decided_by.strip())
    given = [(one, (reasons.get(one.what) or reasons.get(REST) or "").strip()) for one in lacking]
    left = [one for one, because in given if not because or (one.needs_clinician and not may)]
    if left:
        return left
    for one, because in given:
        row = NotTaken(
            visit=visit,
            step=step,
            what=one.what,
            rule_ids=", ".join(one.rule_ids),
            because=because,
            decided_by=decided_by.strip() if one.needs_clinician else "",
            by=by,
        )
        save_as(row, by=by, reason=because)
    return []
