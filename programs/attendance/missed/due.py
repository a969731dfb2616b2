"""What missed sessions ask for, of many courses at once: calls, and sessions to book."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple

from django.db.models import Case, Count, Exists, F, Max, OuterRef, QuerySet, When

from patients.prepared import Prepared, rows_at
from programs.attendance.calc.absences import (
    CALL_AFTER,
    LOOK_BACK_DAYS,
    Call,
    Past,
    to_call_about,
)
from programs.attendance.missed.queries import GRACE_DAYS, RECORDED
from programs.attendance.models import ClassMeeting, Visit
from programs.enrolment.calc.make_up import missing_sessions
from programs.enrolment.models import ContactAttempt, Enrolment, Pause, PlannedSession
from programs.staff.models import Site

NOW_DAYS = 14  # bookings that run out sooner are for now (project choice)
Outcome = ContactAttempt.Outcome
SETTLES = frozenset({Outcome.REACHED, Outcome.MESSAGE})


class Short(NamedTuple):
    """A course with fewer bookings than sessions to go, by keys alone."""

    enrolment: int
    missing: int
    to_go: int
    booked: int
    last_on: date | None  # the last booking
    days: int  # until it; 0 when there is none ahead
    clinician: int | None

    @property
    def key(self) -> str:
        return str(self.enrolment)

    @property
    def is_now(self) -> bool:
        return self.days <= NOW_DAYS

    @property
    def order(self) -> tuple[int, int]:
        """Whose bookings run out first."""
        return self.days, self.enrolment


def _going(at: Any) -> QuerySet[Any, Any]:
    cared = Case(When(clinician__is_active=True, then=F("clinician")))
    going = Enrolment.objects.filter(patient__site__pk__aside=at.site_ids()).still_open()
    return (
        going.exclude(pk__in=_paused())
        .order_by()
        .values_list("pk", "patient__site", "sessions_planned", "totals__sessions", cared)
    )


def _booked(keys: Any, since: Any) -> QuerySet[Any, Any]:
    """By course, how many bookings there are since a day, and the last of them.

    Only these are read: what was booked before is most of a course.
    """
    rows = PlannedSession.objects.filter(enrolment__pk__listed=keys, on__gte=since).order_by()
    return rows.values_list("enrolment").annotate(n=Count("*"), last=Max("on"))


def _recorded(since: Any) -> QuerySet[Any, Any]:
    """Of the bookings since a day, the course and day of those that were held or missed.

    What was announced of a booking that was given up afterwards stands for none.
    """
    booked = PlannedSession.objects.filter(
        enrolment=OuterRef("enrolment"), slot=OuterRef("meeting__slot"), on=OuterRef("on")
    )
    # As a list of meetings: SQLite would begin with every visit there ever was.
    held = ClassMeeting.objects.filter(on__gte=since).order_by().values("pk")
    visits = Visit.objects.filter(Exists(booked), meeting__in=held, state__in=RECORDED)
    return visits.order_by().values_list("enrolment", "on")


_BOOKED, _RECORDED = Prepared(_booked, keys=list, since=date), Prepared(_recorded, since=date)


def short_at(sites: Iterable[Site]) -> list[Short]:
    """Open courses that are not paused and lack bookings: four queries of bare values.

    Where midnight lies between the sites there is one more. Counted like ``queries.standing_of``.
    """
    days = {site.pk: site.today() for site in sites}
    on_a_day: dict[date, list[Any]] = defaultdict(list)  # sites mostly share one
    for course in rows_at(_going, list(days)):
        on_a_day[days[course[1]]].append(course)
    if not on_a_day:
        return []
    recorded_on: dict[int, list[date]] = defaultdict(list)
    for pk, on in _RECORDED(since=min(on_a_day) - timedelta(days=GRACE_DAYS)):
        recorded_on[pk].append(on)
    found = []
    for day, courses in on_a_day.items():
        since = day - timedelta(days=GRACE_DAYS)
        rows = _BOOKED(keys=[course[0] for course in courses], since=since)
        ahead = {pk: (n, last) for pk, n, last in rows}
        for pk, _, planned, counted, clinician in courses:
            n, last_on = ahead.get(pk, (0, None))
            booked = n - sum(on >= since for on in recorded_on.get(pk, ()))
            counted = counted or 0
            missing = missing_sessions(planned, counted, booked)
            if missing:
                left = max(0, (last_on - day).days) if last_on else 0
                short = Short(pk, missing, planned - counted, booked, last_on, left, clinician)
                found.append(short)
    return sorted(_with_last(found), key=lambda one: one.order)


def _with_last(found: list[Short]) -> list[Short]:
    """The few with no booking since then are told their last one, however long ago."""
    without = [one.enrolment for one in found if one.last_on is None]
    rows = PlannedSession.objects.filter(enrolment__in=without).order_by()
    last = dict(rows.values_list("enrolment").annotate(Max("on"))) if without else {}
    return [one._replace(last_on=one.last_on or last.get(one.enrolment)) for one in found]


def _paused() -> Any:
    return Pause.objects.filter(until_on=None).order_by().values("enrolment")


# --- calls --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ToCall:
    """Somebody who missed sessions in a row without a reason."""

    enrolment: int
    days: tuple[date, ...]
    tries: tuple[ContactAttempt, ...] = ()

    @property
    def n(self) -> int:
        return len(self.days)


def calls_at(sites: Iterable[Site]) -> list[ToCall]:
    """Whom to call about missed sessions, the longest run first: at most three queries.

    Few miss two of their last sessions without a reason; only their visits are read.
    """
    today = {site.pk: site.today() for site in sites}
    if not today:
        return []
    newest = max(today.values())
    since = min(today.values()) - timedelta(days=LOOK_BACK_DAYS)
    held = ClassMeeting.objects.filter(on__range=(since, newest)).order_by().values("pk")
    missed = Visit.objects.filter(
        meeting__in=held, state=Visit.State.ABSENT, absence=Visit.Absence.UNKNOWN
    )
    counted = missed.order_by().values_list("enrolment").annotate(n=Count("pk"))
    suspects = [course for course, _ in counted.filter(n__gte=CALL_AFTER)]
    if not suspects:
        return []
    visits = _in_order(
        Visit.objects.filter(
            enrolment__in=suspects,
            enrolment__closed_on=None,
            enrolment__patient__site__in=list(today),
            on__range=(since, newest),
        ).exclude(enrolment__in=_paused())
    )
    past: dict[int, list[Past]] = defaultdict(list)
    of: dict[int, tuple[int, date]] = {}
    for course, referral, site, *one in visits.values_list(
        "enrolment", "enrolment__referral", "enrolment__patient__site", *_PAST
    ):
        if one[0] <= today[site]:
            past[course].append(_past(*one))
            of[course] = referral, today[site]
    return _with_tries(past, of)


def _with_tries(past: dict[int, list[Past]], of: dict[int, tuple[int, date]]) -> list[ToCall]:
    likely = [course for course in past if to_call_about(past[course], [], of[course][1])]
    tries: dict[int, list[ContactAttempt]] = defaultdict(list)
    if likely:
        keys = [of[course][0] for course in likely]
        made = ContactAttempt.objects.filter(referral__in=keys, missed_until__isnull=False)
        for one in made.select_related("by").order_by("at", "pk"):
            tries[one.referral_id].append(one)
    found = []
    for course in likely:
        referral, day = of[course]
        run = to_call_about(past[course], [call_of(one) for one in tries[referral]], day)
        if run:
            found.append(ToCall(course, tuple(run), _about(run, tries[referral])))
    return sorted(found, key=lambda one: (-one.n, one.enrolment))


def to_call(row: Enrolment) -> ToCall | None:
    """Whether somebody is to be called about the sessions missed in one course."""
    if not row.is_open or row.pauses.filter(until_on=None).exists():
        return None
    today = row.patient.site.today()
    since = today - timedelta(days=LOOK_BACK_DAYS)
    visits = _in_order(row.visits.filter(on__range=(since, today)))
    past = [_past(*one) for one in visits.values_list(*_PAST)]
    return next(iter(_with_tries({row.pk: past}, {row.pk: (row.referral_id, today)})), None)


_PAST = ("on", "state", "absence")


def _in_order(visits: Any) -> Any:
    """Visits that are recorded; an arrival or absence that was undone is none."""
    recorded = visits.exclude(state=Visit.State.EXPECTED)
    return recorded.order_by("on", "meeting__slot__starts_at", "pk")


def _past(on: date, state: str, absence: str) -> Past:
    return Past(on, state == Visit.State.ABSENT and absence == Visit.Absence.UNKNOWN)


def call_of(attempt: ContactAttempt) -> Call:
    """A stored call, as the rule reads it."""
    until_on = attempt.missed_until or date.min
    return Call(until_on, attempt.outcome in SETTLES, attempt.next_try_on)


def _about(run: Sequence[date], tries: Sequence[ContactAttempt]) -> tuple[ContactAttempt, ...]:
    """The tries about this very run, the latest first."""
    return tuple(one for one in reversed(tries) if (one.missed_until or date.min) >= run[0])
