"""Minutes make sessions.

One session needs at least 31 minutes on a day, two need at least 91; never more than two a day
(CMS Claims Processing Manual ch. 32, as summarised by HCPro, APCs Insider, 10 December 2010).
"""

from patients.calc.limits import OutOfRange

ONE_SESSION_MINUTES = 31
TWO_SESSIONS_MINUTES = 91


def sessions_for(total_minutes: float) -> int:
    """Sessions that a day's total treatment time makes: 0, 1 or 2.

    Raises
    ------
    OutOfRange : minutes below zero or beyond a day.
    """
    if not 0 <= total_minutes <= 24 * 60:
        raise OutOfRange("Minutes of the day", total_minutes, 0, 24 * 60, "min")
    return (total_minutes >= ONE_SESSION_MINUTES) + (total_minutes >= TWO_SESSIONS_MINUTES)


def why_not_counted(minutes: float) -> str:
    """A sentence for a finished visit that does not count: too short, or a second of its day."""
    if sessions_for(minutes):
        return f"A second session on one day needs {TWO_SESSIONS_MINUTES} minutes in all."
    return f"{minutes:g} minutes do not make a session; {ONE_SESSION_MINUTES} are needed."
