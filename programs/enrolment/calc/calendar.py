"""The calendar of a course: which class on which day, around closures.

How weeks of the program are counted is a project choice.

References
----------
42 CFR 410.49(f): how many sessions, over how many weeks, how many a day.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta

WEEKS = 12
SESSIONS = 36  # up to 36 one-hour sessions
COURSE_WEEKS = 36  # over up to 36 weeks
NEEDS_APPROVAL = "needs the payer’s approval"
COUNTED_A_DAY = 2  # at most two one-hour sessions a day

Sitting = tuple[date, int]  # a day and the key of the class held on it


class NoRoomInCourse(ValueError):
    """The chosen classes cannot hold the planned sessions inside the course limit."""


@dataclass(frozen=True)
class WeeklyClass:
    """One class of the timetable: an id of the caller's and its weekday (Monday is 0)."""

    key: int
    weekday: int


def last_course_day(first_session_on: date) -> date:
    """Last day of the 36 weeks, day 1 being the first session (inclusiveness from memory).

    Parameters
    ----------
    first_session_on : day of the first session.

    Returns
    -------
    Day 252 of the course, the first session's day being day 1.
    """
    return first_session_on + timedelta(days=COURSE_WEEKS * 7 - 1)


def beyond_course(number: int, on: date, starts_on: date, sessions_planned: int = SESSIONS) -> str:
    """Why a session lies beyond what a course holds without the payer's approval.

    Parameters
    ----------
    number : which session of the course it is, from 1.
    on : its day.
    starts_on : day of the first session.
    sessions_planned : sessions of the course; more than 36 are planned only with an approval, which
        then covers the longer time as well.

    Returns
    -------
    A phrase, empty while the session is inside.

    References
    ----------
    Medicare Benefit Policy Manual ch. 15 s. 232: 36 sessions over up to 36 weeks, further ones only
    if the contractor approves (rules A-15 and A-20).
    """
    if number > max(SESSIONS, sessions_planned):
        return f"session {number}, beyond {max(SESSIONS, sessions_planned)}: {NEEDS_APPROVAL}"
    if on > last_course_day(starts_on) and sessions_planned <= SESSIONS:
        return f"after the {COURSE_WEEKS} weeks: {NEEDS_APPROVAL}"
    return ""


def overlaps(starts: time, minutes: int, others_start: time, others_minutes: int) -> bool:
    """Whether two classes of one day share a minute.

    Parameters
    ----------
    starts, others_start : hours of the two classes on that day.
    minutes, others_minutes : how long they last. [min]

    Returns
    -------
    True when they do; one that begins as the other ends does not.
    """
    first, second = (at.hour * 60 + at.minute for at in (starts, others_start))
    return first < second + others_minutes and second < first + minutes


def plan_sessions(
    start_on: date,
    classes: Sequence[WeeklyClass],
    closed: Iterable[date],
    sessions: int = SESSIONS,
    course_from: date | None = None,
    not_held: Iterable[Sitting] = (),
) -> list[Sitting]:
    """Dates and class keys for a number of sessions from a day on, skipping closures.

    Parameters
    ----------
    start_on : first day that may hold a session.
    classes : the person's weekly classes; at most two on one weekday.
    closed : days on which nothing is held.
    sessions : how many to plan. [sessions], 1 to 72
    course_from : first day of a course under way; its 36 weeks count from there.
    not_held : single classes cancelled, or full, or already this person's.

    Returns
    -------
    Day and class key of each session in the order of days, as many as asked for.

    Raises
    ------
    NoRoomInCourse : no class was chosen, three fall on one day, or 36 weeks do not suffice.
    """
    by_weekday: dict[int, list[int]] = {}
    for weekly in classes:
        by_weekday.setdefault(weekly.weekday, []).append(weekly.key)
    if not by_weekday:
        raise NoRoomInCourse("Choose at least one class.")
    if max(map(len, by_weekday.values())) > COUNTED_A_DAY:
        raise NoRoomInCourse("At most two classes can fall on one day.")
    planned: list[Sitting] = []
    shut, cancelled, day = set(closed), set(not_held), start_on
    while len(planned) < sessions:
        first = course_from or (planned[0][0] if planned else None)
        if first is not None and day > last_course_day(first):
            raise NoRoomInCourse(
                f"These classes hold only {len(planned)} of {sessions} sessions in "
                f"{COURSE_WEEKS} weeks; choose more classes a week."
            )
        if (day - start_on).days > 2 * COURSE_WEEKS * 7:
            raise NoRoomInCourse("These classes are closed throughout.")
        if day not in shut:
            held = [(day, key) for key in by_weekday.get(day.weekday(), [])]
            planned += [sitting for sitting in held if sitting not in cancelled]
        day += timedelta(days=1)
    return planned[:sessions]


def week_of(day: date, start_on: date) -> int:
    """Week of the program a day falls in, the first being 1.

    Parameters
    ----------
    day : any day.
    start_on : first day of week 1.

    Returns
    -------
    Week. [weeks], counted from 1; 0 or less for days before the start
    """
    return (day - start_on).days // 7 + 1
