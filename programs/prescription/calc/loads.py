"""The machines of a session, as prescribed."""

from collections.abc import Mapping, Sequence
from typing import Any

MACHINES_AT_ONCE = 2  # that a session is divided between where nobody says otherwise


def planned_loads(loads: Sequence[Mapping[str, Any]], minutes: int) -> list[dict[str, Any]]:
    """The machines of a session with their minutes.

    Parameters
    ----------
    loads : what each machine is set to, with minutes [min] where they were prescribed and METs
        where it can be set.
    minutes : of the session. [min]

    Returns
    -------
    Those with minutes of their own; where none has any, the first two that can be set, half the
    time each.

    References
    ----------
    project choice
    """
    chosen = [dict(load) for load in loads if load.get("minutes")]
    if chosen:
        return chosen
    settable = [load for load in loads if load.get("mets") is not None][:MACHINES_AT_ONCE]
    return [{**load, "minutes": minutes // MACHINES_AT_ONCE} for load in settable]
