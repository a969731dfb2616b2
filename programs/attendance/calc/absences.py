"""Sessions missed in a row without a reason, and whether somebody has called about them.

That two make a call is common practice, no source; so are the days a run is looked for.
"""

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

CALL_AFTER = 2  # sessions missed in a row without a reason
LOOK_BACK_DAYS = 42


class Past(NamedTuple):
    """A session that lies behind: its day, and whether it was missed without a reason."""

    on: date
    is_unexplained: bool


class Call(NamedTuple):
    """A try to reach somebody about missed sessions.

    ``until_on`` is the day of the last of them that was spoken about; ``settles`` when somebody was
    reached or a message left; ``next_on`` the day of the next try, if one was set.
    """

    until_on: date
    settles: bool
    next_on: date | None = None


def to_call_about(past: Sequence[Past], calls: Sequence[Call], today: date) -> list[date]:
    """Sessions missed in a row, up to the last one, about which somebody is to be called.

    A call that settles leaves only what was missed after it. One that reached nobody leaves
    everything, from the day of its next try on.

    Parameters
    ----------
    past : recorded sessions in their order, those that were held among them.
    calls : made about missed sessions, the latest last.
    today : day it is.

    Returns
    -------
    Their days in order; empty while fewer than two, or while the next try lies ahead.
    """
    settled = max((call.until_on for call in calls if call.settles), default=date.min)
    run: list[date] = []
    for session in reversed(past):
        if not session.is_unexplained or session.on <= settled:
            break
        run.insert(0, session.on)
    if len(run) < CALL_AFTER:
        return []
    last = calls[-1] if calls else None
    if last is not None and not last.settles and (last.next_on or today) > today:
        return []
    return run
