"""Minutes make sessions.

One session needs at least 31 minutes on a day, two need at least 91; never more than two a day.
How a late arrival is told is a project choice.

References
----------
CMS Claims Processing Manual ch. 32, as summarised by HCPro, APCs Insider, 10 December 2010.
"""

from datetime import date, datetime, time

from patients.calc.limits import OutOfRange

ONE_SESSION_MINUTES = 31
TWO_SESSIONS_MINUTES = 91
CODE_WITHOUT_ECG, CODE_WITH_ECG = "93797", "93798"


def sessions_for(total_minutes: float) -> int:
    """Sessions that a day's total treatment time makes.

    Parameters
    ----------
    total_minutes : treatment of one day, all visits together. [min], 0 to 1440

    Returns
    -------
    Sessions. [sessions], 0 below 31 minutes, 1 from 31, 2 from 91

    Raises
    ------
    OutOfRange : minutes below zero or beyond a day.
    """
    if not 0 <= total_minutes <= 24 * 60:
        raise OutOfRange("Minutes of the day", total_minutes, 0, 24 * 60, "min")
    return (total_minutes >= ONE_SESSION_MINUTES) + (total_minutes >= TWO_SESSIONS_MINUTES)


def session_code(has_ecg: bool | None) -> str:
    """The CPT number of a counted session: with or without continuous ECG.

    Parameters
    ----------
    has_ecg : whether the ECG was watched throughout; None when not noted.

    Returns
    -------
    "93798" with, "93797" without, "" when not noted. Numbers only, their descriptors are licensed.

    References
    ----------
    CMS national coverage texts name both numbers.
    """
    return {True: CODE_WITH_ECG, False: CODE_WITHOUT_ECG, None: ""}[has_ecg]


def sessions_of_day(minutes: float, *, has_exercised: bool) -> int:
    """Sessions that a day makes: minutes count only on a day with exercise.

    Exercise must be part of each day, not of each of two sessions on it (HCPro, as above).

    Parameters
    ----------
    minutes : treatment of one day, all visits together. [min], 0 to 1440
    has_exercised : whether a bout of exercise is recorded on that day.

    Returns
    -------
    Sessions. [sessions], 0 to 2

    Raises
    ------
    OutOfRange : with exercise, minutes below zero or beyond a day.
    """
    return sessions_for(minutes) if has_exercised else 0


def why_not_counted(minutes: float, *, has_exercised: bool = True) -> str:
    """Why a finished visit does not count: no exercise, too short, or a second of its day.

    Parameters
    ----------
    minutes : treatment of the visit. [min], 0 to 1440
    has_exercised : whether a bout of exercise is recorded on its day.

    Returns
    -------
    One sentence; that the visit does not count is taken as given.

    Raises
    ------
    OutOfRange : with exercise, minutes below zero or beyond a day.
    """
    if not has_exercised:
        return "No exercise is recorded on this day, so nothing counts as a session."
    if sessions_for(minutes):
        return f"A second session on one day needs {TWO_SESSIONS_MINUTES} minutes in all."
    return f"{minutes:g} minutes do not make a session; {ONE_SESSION_MINUTES} are needed."


def minutes_late(came: datetime, on: date, starts_at: time, minutes: int) -> int:
    """Minutes between the hour of a class and the arrival.

    An arrival noted after the class was over was noted late, whenever the person came.

    Parameters
    ----------
    came : arrival, on the wall clock of the site.
    on : day of the class.
    starts_at : hour of the class, on the same clock.
    minutes : how long the class lasts. [min]

    Returns
    -------
    Whole minutes. [min], 1 to ``minutes``; 0 when in time or noted after the class
    """
    due = datetime.combine(on, starts_at, came.tzinfo)
    late = int((came - due).total_seconds() // 60)
    return late if 0 < late <= minutes else 0
