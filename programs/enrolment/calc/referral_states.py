"""Where a referral stands, and where it may go from there (project choice)."""

NEW, ASKING, CONTACTED = "new", "asking", "contacted"
WAITING_FOR_SEAT, ENROLLED, NOT_ENROLLING = "seat", "enrolled", "not_enrolling"

MOVES: dict[str, set[str]] = {
    NEW: {ASKING, CONTACTED, WAITING_FOR_SEAT, ENROLLED, NOT_ENROLLING},
    ASKING: {CONTACTED, WAITING_FOR_SEAT, ENROLLED, NOT_ENROLLING},
    CONTACTED: {ASKING, WAITING_FOR_SEAT, ENROLLED, NOT_ENROLLING},
    WAITING_FOR_SEAT: {ASKING, CONTACTED, ENROLLED, NOT_ENROLLING},
    ENROLLED: {CONTACTED},  # a booking taken back before the first session
    NOT_ENROLLING: {CONTACTED},  # reopened
}
WAITING = frozenset({NEW, ASKING, CONTACTED, WAITING_FOR_SEAT})


def may_move(here: str, there: str) -> bool:
    """Whether a referral may go from one state to another; staying is no move.

    Parameters
    ----------
    here : its state, one of ``MOVES``.
    there : the state wanted.

    Returns
    -------
    True when the move is allowed; False for a state unknown as ``there``.

    Raises
    ------
    KeyError : ``here`` is no state.
    """
    return there in MOVES[here]
