"""The program's figures from each course's totals, and the proof that the totals are right.

A course's totals (``enrolment.CourseTotals``) are told by whoever writes what they are made of.
Here stands the slow definition, straight from the visits and assessments: it is what the totals
must come to.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby, islice
from typing import Any

from django.db import transaction
from django.db.models import Case, Count, F, Q, Sum, Value, When
from django.db.models.lookups import GreaterThanOrEqual

from assessments.models import Assessment
from programs.attendance.models import Visit
from programs.enrolment.calc.calendar import last_course_day
from programs.enrolment.calc.start_clock import TARGET_DAYS, counted_from
from programs.enrolment.models import CourseTotals, Enrolment
from programs.enrolment.models.course import month_of
from reports.calc.completion import DEFINITIONS, Cohort, CourseFacts, Definition

STARTED = Q(sessions__gt=0)
CHUNK = 2000


def year_before(day: date) -> date:
    return day - timedelta(days=425)  # fourteen months: a year of starters with room to finish


# --- figures ------------------------------------------------------------------------------------


def cohorts(sites: Mapping[int, str], since: date, until: date) -> list[Cohort]:
    """The courses of some sites that began in a span of days, counted: one query.

    ``sites`` are names by key.
    """
    waits = STARTED & Q(days_to_start__isnull=False)
    found = (
        _begun(sites, since, until)
        .values_list("site", "starts_in")
        .annotate(
            n=Count("*"),
            ended=_n(STARTED & Q(has_ended=True)),
            going=_n(STARTED & Q(has_ended=False)),
            never=_n(Q(sessions=0, has_ended=True)),
            timely=_n(waits & Q(days_to_start__lte=TARGET_DAYS)),
            waits=_n(waits),
            **{f"completed_{n}": _n(completed(by)) for n, by in enumerate(DEFINITIONS)},
        )
    )
    return [
        Cohort(
            sites[site],
            month,
            n_enrolled=n,
            n_ended=ended,
            n_in_program=going,
            n_never_started=never,
            n_timely=timely,
            n_wait_known=waited,
            completed=tuple(by_definition),
        )
        for site, month, n, ended, going, never, timely, waited, *by_definition in found
    ]


def reasons(sites: Iterable[int], since: date, until: date) -> list[tuple[str, int]]:
    """Why courses that began in a span of days ended, the commonest first."""
    labels = dict(Enrolment.Outcome.choices)
    ended = _begun(sites, since, until).filter(STARTED, has_ended=True)
    counts = ended.values_list("outcome").annotate(n=Count("*"))
    return sorted(((labels[key], n) for key, n in counts), key=lambda kn: (-kn[1], kn[0]))


def _begun(sites: Iterable[int], since: date, until: date) -> Any:
    """The months bound what is read; the days are exact."""
    months = (month_of(since), month_of(until))
    mine = CourseTotals.objects.filter(site__in=list(sites), starts_in__range=months)
    return mine.filter(starts_on__range=(since, until)).order_by()


def _n(condition: Q) -> Sum:
    """How many rows meet a condition; cheaper than a count of keys with a filter."""
    return Sum(Case(When(condition, then=Value(1)), default=Value(0)))


def completed(by: Definition) -> Q:
    """The definition as a condition on totals, of courses that started and ended."""
    wanted = F("planned") * by.of_planned + by.least
    enough = Q(GreaterThanOrEqual(F(by.counts) * by.times, wanted))
    if by.needs_exit:
        enough &= Q(has_exit=True)
    return STARTED & Q(has_ended=True) & enough


# --- the slow definition ------------------------------------------------------------------------


def worked_out(courses: Any = None) -> Iterator[CourseTotals]:
    """What the totals of courses must be, from the record itself; every course by default.

    Three queries, read along the keys side by side: nothing is held but a course.
    """
    mine = Enrolment.objects.all() if courses is None else courses
    of = {} if courses is None else {"enrolment__in": courses.order_by().values("pk")}
    exits = Assessment.objects.filter(kind=Assessment.Kind.EXIT, performed_on__isnull=False, **of)
    with_exit = set(exits.order_by().values_list("enrolment", flat=True))
    days = (
        Visit.objects.counted().filter(**of).order_by("enrolment", "on")
        .values_list("enrolment", "on", "counts_first", "counts_second")
        .iterator(chunk_size=CHUNK)
    )  # fmt: skip
    visits = groupby(days, key=lambda row: row[0])
    pk, group = next(visits, (None, iter(())))
    for row in mine.order_by("pk").values_list("pk", *NAMES).iterator(chunk_size=CHUNK):
        sessions = []
        if row[0] == pk:
            sessions = [(on, first + second) for _, on, first, second in group]
            pk, group = next(visits, (None, iter(())))
        yield _totals(row, sessions, row[0] in with_exit)


NAMES = (
    "patient__site", "starts_on", "sessions_planned", "closed_on", "outcome",
    "referral__discharged_on", "referral__condition__happened_on", "referral__referred_on",
)  # fmt: skip


def _totals(row: tuple[Any, ...], sessions: list[tuple[date, int]], has_exit: bool) -> CourseTotals:
    pk, site, starts_on, planned, closed_on, outcome, *dates = row
    _, waits_since = counted_from(*dates)
    first_on = sessions[0][0] if sessions else None
    until = last_course_day(first_on) if first_on else starts_on
    return CourseTotals(
        enrolment_id=pk,
        site_id=site,
        starts_on=starts_on,
        starts_in=month_of(starts_on),
        planned=planned,
        has_ended=closed_on is not None,
        outcome=outcome,
        waits_since=waits_since,
        sessions=sum(n for _, n in sessions),
        sessions_in_36_weeks=sum(n for on, n in sessions if on <= until),
        first_on=first_on,
        days_to_start=(first_on - waits_since).days if first_on else None,
        has_exit=has_exit,
    )


def totals_of(course: Enrolment, days: list[date], has_exit: bool) -> CourseTotals:
    """What the totals of one course must be, from a day for each of its counted sessions.

    Its wait is left out: it has no part in what is kept of a referral.
    """
    until = last_course_day(days[0]) if days else course.starts_on
    return CourseTotals(
        enrolment_id=course.pk,
        planned=course.sessions_planned,
        outcome=course.outcome,
        sessions=len(days),
        sessions_in_36_weeks=sum(on <= until for on in days),
        first_on=days[0] if days else None,
        has_exit=has_exit,
    )


def facts_of(totals: CourseTotals, site: str) -> CourseFacts:
    """A course's totals as the calculations take them."""
    return CourseFacts(
        site,
        totals.starts_on,
        totals.sessions,
        totals.sessions_in_36_weeks,
        totals.planned,
        totals.has_exit,
        totals.has_ended,
        totals.days_to_start,
        totals.outcome,
    )


COLUMNS = [f.attname for f in CourseTotals._meta.concrete_fields]


@dataclass(frozen=True)
class Difference:
    """A course whose stored totals are not what the record says."""

    enrolment: int
    columns: tuple[str, ...]  # what differs; "missing" when there is no row
    right: CourseTotals


def differences() -> Iterator[Difference]:
    """Every course whose totals are wrong or missing, by key."""
    stored = _by_key(CourseTotals.objects.order_by("pk").iterator(chunk_size=CHUNK))
    for right in worked_out():
        row = stored(right.pk)
        if row is None:
            yield Difference(right.pk, ("missing",), right)
            continue
        wrong = tuple(name for name in COLUMNS if getattr(row, name) != getattr(right, name))
        if wrong:
            yield Difference(right.pk, wrong, right)


def _by_key(rows: Iterator[CourseTotals]) -> Callable[[int], CourseTotals | None]:
    """Look rows up by ascending keys while both are read along."""
    held = next(rows, None)

    def find(pk: int) -> CourseTotals | None:
        nonlocal held
        while held is not None and held.pk < pk:
            held = next(rows, None)
        return held if held is not None and held.pk == pk else None

    return find


@transaction.atomic
def mend(found: Iterable[Difference]) -> None:
    """Store what the record says, some thousand courses at a time."""
    rest = iter(found)
    while wrong := list(islice(rest, CHUNK)):
        CourseTotals.objects.bulk_create(
            [one.right for one in wrong],
            update_conflicts=True,
            unique_fields=["enrolment"],
            update_fields=[name for name in COLUMNS if name != "enrolment_id"],
        )
