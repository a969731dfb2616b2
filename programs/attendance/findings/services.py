"""Findings: kept as the rules raise them, answered by people, never passing silently."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.history import save_as
from programs.attendance.calc.catalogue import is_lasting
from programs.attendance.calc.levels import Level
from programs.attendance.calc.rules import Evaluation, Rule, Settled, Triggered, evaluate
from programs.attendance.calc.sheet import Sheet
from programs.attendance.calc.situation import Known, Situation
from programs.attendance.findings.interruptions import document, interrupt, settle
from programs.attendance.findings.known import known_of
from programs.attendance.findings.not_taken import DECIDES
from programs.attendance.limits.queries import rules_for
from programs.attendance.models import Finding, Visit
from programs.attendance.visit.counting import recount
from programs.attendance.visit.locking import lock_visit
from programs.attendance.visit.queries import stored_sheet
from programs.staff.models import User

State = Visit.State
UNCONFIRMED_RETURN = "E-31"


def judge(
    visit: Visit,
    sheet: Sheet,
    known: Known,
    rules: Sequence[Rule],
    *,
    is_over: bool = False,
) -> Evaluation:
    """What the rules in force say about a sheet. Stores nothing."""
    ended = visit.state in Visit.EXERCISED
    has_exercised = ended or visit.state == State.EXERCISING
    situation = Situation(
        sheet,
        known,
        has_exercised=has_exercised,
        is_over=ended or is_over,
        minutes_running=_minutes_since(visit.started_at, visit) or 0,
        minutes_since_glucose=_minutes_since(
            max((at for at, _ in sheet.rechecks), default=None), visit
        ),
    )
    return evaluate(rules, situation)


def _minutes_since(at: datetime | None, visit: Visit) -> int | None:
    """Whole minutes from a moment to the end of the visit, or to now."""
    if at is None:
        return None
    return max(0, int(((visit.ended_at or timezone.now()) - at).total_seconds() // 60))


def judge_again(
    visit: Visit, known: Known | None = None, *, is_over: bool = False, by: User
) -> Evaluation:
    """Judge a locked visit as it is stored now, by the limits of this moment, and keep the result.

    ``known`` is what is known of the person, where the caller has it at hand.
    """
    rules = rules_for(visit.enrolment.patient)
    known = known or known_of(visit)
    judged = judge(visit, stored_sheet(visit), known, rules, is_over=is_over)
    keep_findings(visit, judged, rules, by=by)
    return judged


def keep_findings(visit: Visit, judged: Evaluation, rules: Sequence[Rule], *, by: User) -> None:
    """Store what triggered anew; clear what no longer triggers, where ``by`` may settle it.

    A reading that went missing clears nothing: the finding stands until its rule was checked.
    What happened during exercise happened: such a finding is answered, never cleared. A hold
    clears by a repeat inside the limit, by the record, or for a clinician; see ``Rule.settled_by``.
    """
    now = timezone.now()
    current = {(f.rule_id, f.of, f.level, f.value): f for f in judged.findings}
    stored = {
        (f.rule_id, f.about, f.level, f.value): f for f in visit.findings.filter(cleared_at=None)
    }
    for key, old in stored.items():
        subject = old.rule_id, old.about
        is_past = key not in current and subject in judged.checked and not is_lasting(*subject)
        is_replaced = any(f.subject == subject and f.level >= old.level for f in judged.findings)
        if is_past and (is_replaced or may_settle(old, visit, rules, by=by)):
            old.cleared_at = now
            save_as(old, by=by, reason="no longer triggered")
    for key, found in current.items():
        if key not in stored:
            save_as(_row_of(visit, found), by=by, reason="raised")


def may_settle(old: Finding, visit: Visit, rules: Sequence[Rule], *, by: User) -> bool:
    """Whether a finding that no longer triggers is settled when this person looks.

    Parameters
    ----------
    old : a finding on record. A caution or note settles by itself.
    visit : its visit, readings included.
    rules : the rules in force.
    by : who saves.
    """
    rule = next(
        (r for r in rules if (r.id, r.of, r.level) == (old.rule_id, old.about, old.level)), None
    )
    if old.level < Level.HOLD or rule is None or rule.settled_by is Settled.RECORD:
        return True
    if by.has_perm(DECIDES):
        return True
    if rule.settled_by is Settled.CLINICIAN:
        return False
    if not rule.vital:
        return True
    again = {f"{rule.vital}__isnull": False}
    return visit.readings.filter(taken_at__gt=old.raised_at, **again).exists()


def _row_of(visit: Visit, found: Triggered) -> Finding:
    return Finding(
        visit=visit,
        rule_id=found.rule_id,
        about=found.of,
        level=found.level,
        value=found.value,
        limit=found.limit,
        sentence=found.sentence,
        source=found.source,
        origin=found.origin,
        is_emergency=found.is_emergency,
    )


@transaction.atomic
def answer_findings(
    visit: Visit,
    keys: Iterable[int],
    decision: str,
    reason: str,
    told: str = "",
    *,
    done: str = "",
    return_condition: str = "",
    by: User,
) -> None:
    """Record one decision about some open findings of a visit; none ever passes silently.

    To hold or stop, the alert is the reason; with what was done, who was notified and when the
    person may return it is documented in the same step.

    Raises
    ------
    ValidationError : going on without a reason; no finding chosen, or one already answered; or
        floor staff go on over a hold or stop without naming the clinician who decided.
    """
    visit = lock_visit(visit)
    wanted = sorted(set(keys))
    found = visit.findings.select_for_update().filter(pk__in=wanted).order_by("pk")
    rows = [row for row in found if row.is_open]
    if not rows or len(rows) < len(wanted):
        raise ValidationError("Choose findings that are still open; another is already answered.")
    worst = max(row.level for row in rows)
    going_on = decision == Finding.Decision.PROCEED
    if going_on and worst >= Level.HOLD and not by.has_perm(DECIDES) and not told:
        raise ValidationError("Name the clinician who decided to go on.")
    if going_on and not reason:
        raise ValidationError("A decision needs a reason.")
    for row in rows:
        record_answer(row, decision, reason or done[:200] or row.sentence[:200], told, by=by)
    if going_on:
        if any(row.rule_id == UNCONFIRMED_RETURN for row in rows):
            settle(visit, f"{reason}{f'; {told}' if told else ''}", by=by)
        return
    seen = " ".join(row.sentence for row in rows)
    standing = visit.interruptions.filter(settled_at=None, is_taken_back=False).first()
    if visit.state in {State.EXERCISING, State.ARRIVED}:
        # Once exercise has begun the visit is stopped, and its minutes count, whatever the word.
        began = visit.state == State.EXERCISING
        visit.state, visit.ended_at = State.STOPPED if began else State.HELD, timezone.now()
        standing = None
    elif standing is not None:
        standing.seen = f"{standing.seen} {seen}".strip()[:300]
        standing.told = standing.told or told
        save_as(standing, by=by, reason=decision)
    held = standing or interrupt(visit, decision, seen=seen, told=told, by=by)
    document(held, done=done, return_condition=return_condition, by=by)
    save_as(visit, by=by, reason=f"{visit.state}: {reason or decision}")
    recount(visit.enrolment, visit.on, by=by)


def record_answer(finding: Finding, decision: str, reason: str, told: str, *, by: User) -> None:
    finding.decision, finding.reason, finding.told = decision, reason, told
    finding.by, finding.answered_at = by, timezone.now()
    save_as(finding, by=by, reason=reason)
