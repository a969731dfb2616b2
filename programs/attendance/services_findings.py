"""Findings: kept as the rules raise them, answered by people, never passing silently."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.history import save_as
from programs.attendance.calc.rules import RULES, Evaluation, Level, Phase
from programs.attendance.calc.rules import Finding as Judged
from programs.attendance.models import (
    Finding,
    Visit,
)
from programs.attendance.services_counting import recount
from programs.staff.models import User

State = Visit.State
DURING_EXERCISE = {rule.id for rule in RULES if rule.phase == Phase.DURING}


def keep_findings(visit: Visit, judged: Evaluation, *, by: User) -> None:
    """Store what triggered anew; clear what a later reading no longer triggers.

    A reading that went missing clears nothing: the finding stands until its rule was checked.
    What happened during exercise happened: such a finding is answered, never cleared.
    """
    now = timezone.now()
    current = {(f.rule_id, f.level, f.value): f for f in judged.findings}
    stored = {(f.rule_id, f.level, f.value): f for f in visit.findings.filter(cleared_at=None)}
    for key, old in stored.items():
        if key not in current and old.rule_id in judged.checked - DURING_EXERCISE:
            old.cleared_at = now
            save_as(old, by=by, reason="no longer triggered")
    for key, found in current.items():
        if key not in stored:
            save_as(_row_of(visit, found), by=by, reason="raised")


def _row_of(visit: Visit, found: Judged) -> Finding:
    return Finding(
        visit=visit,
        rule_id=found.rule_id,
        level=found.level,
        value=found.value,
        limit=found.limit,
        sentence=found.sentence,
        source=found.source,
    )


@transaction.atomic
def answer_finding(
    finding: Finding, decision: str, reason: str, told: str = "", *, by: User
) -> None:
    """Record what was decided about a finding, by whom and why; it never passes silently.

    Raises
    ------
    ValidationError : no reason; or floor staff go on over a hold or stop without naming the
        clinician who decided.
    """
    # The visit first, as when a sheet is saved: two people never wait for each other in a ring.
    visit = Visit.objects.select_for_update().get(pk=finding.visit_id)
    row = Finding.objects.select_for_update().get(pk=finding.pk)
    if not row.is_open:
        raise ValidationError("This finding is already answered.")
    over_bar = decision == Finding.Decision.PROCEED and row.level >= Level.HOLD
    if over_bar and by.role == "floor" and not told:
        raise ValidationError("Name the clinician who decided to go on.")
    record_answer(row, decision, reason, told, by=by)
    if decision == Finding.Decision.STOP and visit.state == State.EXERCISING:
        visit.state, visit.ended_at = State.STOPPED, timezone.now()
        save_as(visit, by=by, reason=f"stopped: {reason}")
        recount(visit.enrolment, visit.on, by=by)
    not_begun = decision == Finding.Decision.STOP and visit.state == State.ARRIVED
    if not_begun or (
        decision == Finding.Decision.HOLD and visit.state in {State.ARRIVED, State.EXERCISING}
    ):
        visit.state, visit.ended_at = State.HELD, timezone.now()
        save_as(visit, by=by, reason=f"held: {reason}")


def record_answer(finding: Finding, decision: str, reason: str, told: str, *, by: User) -> None:
    finding.decision, finding.reason, finding.told = decision, reason, told
    finding.by, finding.answered_at = by, timezone.now()
    save_as(finding, by=by, reason=reason)
