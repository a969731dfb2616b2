"""The sessions of a course in short: came or not, how much was done, as hard as prescribed or not.

What counts as "in range" is a project choice: every aerobic bout of the session, by heart rate
where a range and a rate are on record, else by perceived exertion.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from programs.attendance.calc.effort import NEEDS_NO_METS, Fit, fit, volume_of


@dataclass(frozen=True)
class Dose:
    """A prescription as far as a session is held beside it; replaced on ``until``."""

    since: date
    until: date | None
    low_bpm: int | None
    high_bpm: int | None
    rpe_low: int
    rpe_high: int
    minutes: int
    mets: float | None

    @property
    def met_minutes(self) -> float | None:
        """Aerobic dose of a session. [MET-min], None without a target in METs"""
        return None if self.mets is None else self.mets * self.minutes


@dataclass(frozen=True)
class Done:
    """One bout of a session."""

    activity: str
    minutes: int | None
    mets: float | None
    heart_rate_bpm: int | None
    rpe: int | None


@dataclass(frozen=True)
class Session:
    """One visit: its day, "attended", "held", "stopped" or "missed", and what was done."""

    on: date
    state: str
    reason: str = ""  # of an absence
    met_minutes: float | None = None
    is_in_range: bool | None = None  # None where nothing can be held beside the dose


def dose_on(doses: Sequence[Dose], day: date) -> Dose | None:
    """The prescription in force on a day.

    Parameters
    ----------
    doses : prescriptions of one course.
    day : the day of a session.

    Returns
    -------
    The latest that had begun and was not replaced yet; None without one.
    """
    there = [d for d in doses if d.since <= day and (d.until is None or day < d.until)]
    return max(there, key=lambda dose: dose.since, default=None)


def in_range(bouts: Sequence[Done], dose: Dose | None) -> bool | None:
    """Whether a session was as hard as prescribed.

    Parameters
    ----------
    bouts : what was done.
    dose : prescription of that day, None without one.

    Returns
    -------
    True when each aerobic bout lies within; None when none of them can be told.
    """
    if dose is None:
        return None
    fits = []
    for bout in bouts:
        if bout.activity in NEEDS_NO_METS:
            continue
        found = fit(bout.heart_rate_bpm, dose.low_bpm, dose.high_bpm)
        fits.append(found or fit(bout.rpe, dose.rpe_low, dose.rpe_high))
    known = [one for one in fits if one is not None]
    return all(one is Fit.WITHIN for one in known) if known else None


def done_in(bouts: Sequence[Done]) -> float | None:
    """Aerobic dose of a session.

    Parameters
    ----------
    bouts : what was done.

    Returns
    -------
    Dose. [MET-min]; None where no bout has minutes and a cost.
    """
    return volume_of([(b.activity, b.minutes, b.mets) for b in bouts]).met_minutes or None


def tally(sessions: Sequence[Session]) -> list[tuple[int, str]]:
    """How many of each, in words.

    Parameters
    ----------
    sessions : visits of one course.

    Returns
    -------
    Number and words, such as 7, "missed (4 ill, 3 transport)"; those of which there is one or more,
    and always how many attended.
    """
    n = Counter(one.state for one in sessions)
    why = Counter(one.reason or "no reason recorded" for one in sessions if one.state == "missed")
    reasons = ", ".join(f"{count} {reason}" for reason, count in why.most_common())
    said = [(n["attended"], "attended"), (n["held"], "held"), (n["stopped"], "stopped")]
    said.append((n["missed"], f"missed ({reasons})"))
    return [(count, words) for count, words in said if count or words == "attended"]


def within(sessions: Sequence[Session]) -> str:
    """In how many sessions the prescribed range was kept.

    Parameters
    ----------
    sessions : visits of one course.

    Returns
    -------
    The words; how many could not be told is said.
    """
    known = [one.is_in_range for one in sessions if one.is_in_range is not None]
    if not known:
        return "not known whether in the prescribed range"
    return f"in the prescribed range in {sum(known)} of {len(known)} in which it can be told"
