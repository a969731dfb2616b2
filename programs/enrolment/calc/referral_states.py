"""Where a referral stands, and where it may go from there."""

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
    """True when a referral in state ``here`` may go to ``there``; staying is no move."""
    return there in MOVES[here]
