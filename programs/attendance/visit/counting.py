"""Which visits of a day count as sessions."""

from datetime import date

from patients.history import save_as
from programs.attendance.calc.counting import sessions_of_day
from programs.attendance.models import Bout, Visit
from programs.enrolment.calc.calendar import last_course_day
from programs.enrolment.models import CourseTotals, Enrolment
from programs.staff.models import User

State = Visit.State


def exercised_on(enrolment: Enrolment, on: date) -> bool:
    """A bout of exercise is recorded on this day."""
    bouts = Bout.objects.filter(visit__enrolment=enrolment, visit__on=on, is_withdrawn=False)
    return bouts.exists()


def recount(enrolment: Enrolment, on: date, *, by: User) -> None:
    """Which visits of a day count, from the day's minutes: none, one or two sessions.

    The course's totals are told in any case: what counted before may not any more.
    """
    day = list(enrolment.visits.filter(on=on).order_by("ended_at", "pk"))
    treated = [v for v in day if v.state in Visit.EXERCISED and v.minutes]
    n = sessions_of_day(
        sum(v.minutes or 0 for v in treated), has_exercised=exercised_on(enrolment, on)
    )
    first = treated[0] if n >= 1 else None
    second = treated[-1] if n == 2 else None
    wanted = {v.pk: (v is first, v is second) for v in day}
    changed = [v for v in day if (v.counts_first, v.counts_second) != wanted[v.pk]]
    # All flags go off before any goes on: the database allows one of each a day at any moment.
    for visit in changed:
        if visit.sessions_counted:
            visit.counts_first = visit.counts_second = False
            save_as(visit, by=by, reason="sessions of the day counted")
    for visit in changed:
        if any(wanted[visit.pk]):
            visit.counts_first, visit.counts_second = wanted[visit.pk]
            save_as(visit, by=by, reason="sessions of the day counted")
    tell_totals(enrolment)


def tell_totals(enrolment: Enrolment) -> None:
    """Count a course's sessions anew and tell its totals."""
    days = list(
        enrolment.visits.counted().order_by().values_list("on", "counts_first", "counts_second")
    )
    first_on = min((on for on, *_ in days), default=None)
    until = last_course_day(first_on) if first_on else None
    CourseTotals.objects.count_sessions(
        enrolment,
        [on for on, first, second in days for _ in range(first + second)],
        sum(first + second for on, first, second in days if until and on <= until),
    )
