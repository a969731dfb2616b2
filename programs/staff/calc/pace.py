"""How fast passwords may be tried.

The numbers are common practice, no source. What they must do: somebody who mistypes is never kept
out, whoever guesses gets few guesses, and nobody's guessing keeps another from signing in.
"""

import math

PLAIN = 5  # wrong ones after which the page speaks of it
LOOKED_AT = 15  # wrong ones after which each further one must wait to be looked at
FIRST_WAIT_S = 30
LONGEST_WAIT_S = 15 * 60
FORGOTTEN_AFTER_S = 24 * 3600
CROWD_OF_ADDRESS = 50  # wrong ones of strangers from one address in CROWD_OF_ADDRESS_S
CROWD_OF_ADDRESS_S = 15 * 60
CROWD_OF_ACCOUNT = 100  # wrong ones of strangers for one account in FORGOTTEN_AFTER_S


def wait_seconds(n_wrong: int, since_last_s: float, *, is_crowded: bool = False) -> int:
    """How long until the next password for one account from one place is looked at.

    A place is a browser that signed in to the account before, or else an address. Trying in the
    meantime changes nothing, since such a try is not counted; the right password ends the count.

    Parameters
    ----------
    n_wrong : wrong passwords counted for this account from this place. [1], 0 or more
    since_last_s : time since the last of them. [s], 0 or more
    is_crowded : many wrong ones came from this address or for this account; then the first from a
        place is still looked at, and each further one must wait.

    Returns
    -------
    Time to wait, 0 when it is looked at now. [s], 0 to 900

    Raises
    ------
    Nothing.

    References
    ----------
    None: common practice, no source.
    """
    over = n_wrong - (1 if is_crowded else LOOKED_AT)
    if over < 0 or since_last_s >= FORGOTTEN_AFTER_S:
        return 0
    wait = min(FIRST_WAIT_S * 2 ** min(over, 10), LONGEST_WAIT_S)
    return max(0, math.ceil(wait - since_last_s))
