"""Which signatures of a plan were due, and which were made in time.

Every 30 days, the first by the day the course starts (42 CFR 410.49); that a late one counts on the
day it was due is a project choice: so each signature counts once, in whatever days one asks for.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from programs.prescription.calc.signature import next_signature_due


@dataclass(frozen=True)
class DueSignature:
    """A signature that is due: it counts on the day it was made in time, else on the day due.

    One that lies ahead counts once its day has passed.
    """

    counts_on: date
    is_in_time: bool


def due_signatures(
    starts_on: date, closed_on: date | None, signed: Iterable[date]
) -> list[DueSignature]:
    """Every signature of one course, in order.

    Parameters
    ----------
    starts_on : the day the course starts.
    closed_on : the day it ended; None while it goes on.
    signed : the day of each signature.

    Returns
    -------
    Those made, and the next one unless the course ended by the day it is due. One made after the
    course ended, when none was due any more, is none of it.
    """
    found, due_on = [], next_signature_due(None, starts_on)
    for on in sorted(signed):
        if closed_on is not None and closed_on <= min(on, due_on):
            break
        found.append(DueSignature(min(on, due_on), on <= due_on))
        due_on = next_signature_due(on, starts_on)
    if closed_on is None or due_on < closed_on:
        found.append(DueSignature(due_on, is_in_time=False))
    return found
