"""Exercise stopped by one press, and taken back within a minute."""

import uuid

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from patients.claims import claim
from programs.attendance.findings.interruptions import take_back
from programs.attendance.findings.services import judge_again
from programs.attendance.models import Visit
from programs.attendance.sheet.services import SheetResult, take_step
from programs.attendance.today.lines import may_undo_stop
from programs.attendance.visit.bouts import end_running, run_on
from programs.attendance.visit.locking import lock_visit
from programs.staff.models import User


@transaction.atomic
def stop_now(visit: Visit, *, key: uuid.UUID | None, by: User) -> SheetResult:
    """Stop somebody's exercise, whatever else is typed and whoever saved meanwhile.

    Raises
    ------
    AlreadyTaken : this very press was stored before.
    ValidationError : nobody exercises here.
    """
    claim(key, by=by)
    row = lock_visit(visit)
    end_running(row, timezone.now(), by=by)
    return take_step(row, "stop", by=by)


@transaction.atomic
def undo_stop(visit: Visit, *, by: User) -> Visit:
    """Take a stop back that was pressed by mistake, while it is fresh.

    Raises
    ------
    ValidationError : exercise was not stopped, or more than a minute ago.
    """
    row = lock_visit(visit)
    if row.state != Visit.State.STOPPED:
        raise ValidationError("Nothing to take back: exercise is not stopped.")
    if not may_undo_stop(row):
        raise ValidationError("A stop is taken back within a minute; later it needs a reason.")
    run_on(row, by=by)
    back = take_back(row, "stop pressed by mistake", seen=row.version, by=by)
    judge_again(back, by=by)  # what was open before the stop is open again
    return back
