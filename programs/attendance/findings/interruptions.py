"""Holds and stops as records: written up, taken back, and settled before the person returns."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.history import save_as
from programs.attendance.models import Interruption, Visit
from programs.attendance.visit.counting import recount
from programs.attendance.visit.locking import lock_visit
from programs.staff.models import User

State = Visit.State


def interrupt(visit: Visit, kind: str, *, seen: str = "", told: str = "", by: User) -> Interruption:
    """Note that a visit was held or stopped; the rest is written up when hands are free."""
    row = Interruption(visit=visit, kind=kind, seen=seen[:300], told=told, by=by)
    save_as(row, by=by, reason=kind)
    return row


def document(row: Interruption, *, done: str, return_condition: str, by: User) -> None:
    """What the decision itself said of a hold or stop; written up when nothing is left to say."""
    if not (done or return_condition):
        return
    row.done = f"{row.done} {done}".strip()
    row.return_condition = f"{row.return_condition} {return_condition}".strip()
    if all([row.seen, row.done, row.told, row.return_condition]):
        row.written_at = timezone.now()
    save_as(row, by=by, reason="documented")


@transaction.atomic
def write_up(
    row: Interruption,
    *,
    seen: str,
    done: str,
    told: str,
    return_condition: str,
    outcome: str = "",
    by: User,
) -> None:
    """What was seen and done, who was told, and when the person may return.

    Raises
    ------
    ValidationError : one of these is empty.
    """
    found = Interruption.objects.select_for_update().get(pk=row.pk)
    found.seen, found.done, found.told = seen, done, told
    found.return_condition, found.outcome = return_condition, outcome
    if not all([seen, done, told, return_condition]):
        raise ValidationError(
            "Write what was seen and done, who was notified, and when the person may return."
        )
    found.written_at = found.written_at or timezone.now()
    save_as(found, by=by, reason="documented")


def unsettled(visit: Visit) -> list[Interruption]:
    """Holds and stops of the person's earlier visits that nobody has settled, latest first."""
    earlier = Interruption.objects.filter(
        visit__enrolment__patient=visit.enrolment.patient_id, settled_at=None, is_taken_back=False
    ).exclude(visit=visit)
    return list(
        earlier.filter(visit__on__lte=visit.on).select_related("visit", "by").order_by("-at")
    )


def settle(visit: Visit, words: str, *, by: User) -> None:
    """The return was confirmed at this visit: what earlier ones asked for is met.

    Raises
    ------
    ValidationError : one of them is not written up, so nobody can know what was asked for.
    """
    rows = unsettled(visit)
    unwritten = [row for row in rows if row.written_at is None]
    if unwritten:
        days = ", ".join(f"{row.visit.on:%-d %b %Y}" for row in unwritten)
        raise ValidationError(f"Document first what happened on {days}, and when to return.")
    for row in rows:
        row.settled_at, row.settled_by, row.settled_words = timezone.now(), by, words[:200]
        save_as(row, by=by, reason="return confirmed")


@transaction.atomic
def take_back(visit: Visit, reason: str, *, seen: int, by: User) -> Visit:
    """Undo Finish, Hold or Stop: the visit goes on where it was, and says why.

    Raises
    ------
    ValidationError : the visit has not ended, or no reason is given.
    StaleVersion : somebody else saved the visit meanwhile.
    """
    row = lock_visit(visit)
    row.check_version(seen)
    if row.state not in Visit.ENDED:
        raise ValidationError("Only a finish, hold or stop can be undone.")
    if not reason.strip():
        raise ValidationError("Undoing it needs a reason.")
    began = row.started_at is not None or row.bouts.filter(is_withdrawn=False).exists()
    row.state = State.EXERCISING if began else State.ARRIVED
    row.ended_at, row.left_early = None, ""
    row.counts_first = row.counts_second = False
    save_as(row, by=by, reason=f"undone: {reason}")
    # What led to the hold or stop is judged and decided anew before anybody goes on.
    for finding in row.findings.filter(cleared_at=None, decision__in=["hold", "stop"]):
        finding.cleared_at = timezone.now()
        save_as(finding, by=by, reason=f"decision undone: {reason}")
    for stop in row.interruptions.filter(is_taken_back=False, settled_at=None):
        stop.is_taken_back = True
        save_as(stop, by=by, reason=f"undone: {reason}")
    recount(row.enrolment, row.on, by=by)
    return row
