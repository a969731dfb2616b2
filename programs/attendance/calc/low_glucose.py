"""Treating a low: 15 g of fast carbohydrate, recheck after 15 minutes, again while still low.

Turner 2019, Sports Med Open, doi:10.1186/s40798-019-0192-1; some texts give 15 to 20 g. A low
that needs another person's help is an emergency: nothing by mouth unless awake and swallowing
(common practice, no source). Local protocol comes first. Levels stand in
``rules_glucose.level_of_low``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.rules_glucose import level_of_low

FIRST_GRAMS = 15
RECHECK_MINUTES = 15
KETONES_FROM_MGDL = 250
AFTERWARDS = "When no longer low: a snack or meal, and no risky or solitary activity today."


@dataclass(frozen=True)
class Checked:
    at: datetime
    glucose: Glucose


@dataclass(frozen=True)
class Care:
    """Where the treatment of a low stands."""

    level: int  # of the latest value, 3 once somebody had to help; 0 when it is no longer low
    next_step: str  # call, give, wait, recheck, over
    recheck_at: datetime | None = None
    grams_so_far: int = 0
    was_low: bool = False


def care_of(
    checks: Sequence[Checked],
    given: Sequence[tuple[datetime, int]],
    now: datetime,
    *,
    needed_help: bool = False,
) -> Care | None:
    """What comes next in the treatment of a low.

    Parameters
    ----------
    checks : glucose checks of the visit, in order of time.
    given : time and grams [g] of each dose of fast carbohydrate, in order of time.
    now : the moment that is asked about.
    needed_help : whether another person had to help, measured or not.

    Returns
    -------
    Where the treatment stands. Once somebody had to help, call while no check says that it is
    over: who cannot swallow is given nothing by mouth. Else after a dose without a check wait,
    from 15 minutes on recheck; otherwise give while the latest check is low, else over. None when
    nothing was ever low, nobody helped and nothing was given.
    """
    was_low = needed_help or any(level_of_low(check.glucose) for check in checks)
    if not given and not was_low:
        return None
    latest = checks[-1] if checks else None
    if needed_help and (latest is None or level_of_low(latest.glucose) > 0):
        return Care(3, "call", None, sum(g for _, g in given), was_low=True)
    level = level_of_low(latest.glucose) if latest else 0
    grams = sum(g for _, g in given)
    last_given = given[-1][0] if given else None
    if last_given is not None and (latest is None or latest.at < last_given):
        due = last_given + timedelta(minutes=RECHECK_MINUTES)
        return Care(level, "recheck" if now >= due else "wait", due, grams, was_low=True)
    if level:
        return Care(level, "give", None, grams, was_low=True)
    return Care(0, "over", None, grams, was_low=True)


def needs_new_ketones(ketones: str, earlier: float | None, now: float | None) -> bool:
    """Whether ketones belong to a lower glucose than the one just measured, and that is high.

    Parameters
    ----------
    ketones : what was found, none, small, moderate or large; empty when not tested.
    earlier : glucose at which they were tested. [mg/dL], None when unknown
    now : glucose just measured. [mg/dL], None when not measured

    Returns
    -------
    True when they must be tested again before anybody relies on them.

    References
    ----------
    From 250 mg/dL a ketone test is asked for (rules G-03 and G-04, source there); that it covers no
    higher glucose is a project choice.
    """
    if not ketones or now is None or now < KETONES_FROM_MGDL:
        return False
    return earlier is None or now > earlier
