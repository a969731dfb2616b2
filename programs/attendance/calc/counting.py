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


def why_not_counted(total_minutes: float) -> str:
    """A sentence for a day that makes no session, "" when it makes one."""
    if sessions_for(total_minutes):
        return ""
    return f"{total_minutes:g} minutes do not make a session; {ONE_SESSION_MINUTES} are needed."
