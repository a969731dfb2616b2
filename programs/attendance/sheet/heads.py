"""What stands over the three parts of a session sheet, and which part is at hand."""

from collections.abc import Collection
from datetime import datetime

from django.utils import timezone

from patients.wall import clock
from programs.attendance.models import Visit
from programs.attendance.sheet.layout import Head
from programs.attendance.sheet.sections import AFTER, BEFORE, EXERCISE

State = Visit.State
TITLES = {BEFORE: "Resting vitals", EXERCISE: "Exercise", AFTER: "After exercise"}
AT_HAND = {State.ARRIVED: BEFORE, State.EXERCISING: EXERCISE, State.STOPPED: AFTER}
ORDER = (BEFORE, EXERCISE, AFTER)


def heads_of(
    visit: Visit, address: str, *, with_exercise: bool, may_write: bool
) -> dict[str, Head]:
    """The head of each part; ``address`` is that of the sheet."""
    at = AT_HAND.get(State(visit.state), "")
    place = ORDER.index(at) if at else len(ORDER)
    if visit.state == State.HELD:  # what came before the hold is done, the rest never was
        place = 1
    when = {BEFORE: _read_at(visit), EXERCISE: _exercised(visit), AFTER: _ended(visit)}
    found = {}
    for n, key in enumerate(ORDER):
        state = "now" if key == at else "done" if n < place else "later"
        is_reachable = may_write and (key == BEFORE or with_exercise)
        correct = f"{address}?correct=" if is_reachable else ""
        found[key] = Head(TITLES[key], when[key], state, correct)
    return found


def _local(at: datetime | None) -> str:
    return clock(timezone.localtime(at)) if at else ""


def _read_at(visit: Visit) -> str:
    """When the first reading of the day was taken; else when the person came."""
    taken = [reading.taken_at for reading in visit.readings.all() if reading.phase == BEFORE]
    return _local(min(taken, default=visit.arrived_at))


def _exercised(visit: Visit) -> str:
    if visit.started_at is None:
        return "not begun"
    if visit.state != State.EXERCISING:
        return f"from {_local(visit.started_at)}"
    minutes = int((timezone.now() - visit.started_at).total_seconds() // 60)
    return f"since {_local(visit.started_at)} · {minutes} min"


def _ended(visit: Visit) -> str:
    taken = [r.taken_at for r in visit.readings.all() if r.phase in AFTER_PHASES]
    return _local(min(taken, default=None)) or "not yet"


AFTER_PHASES: Collection[str] = ("after", "recovery")
