"""The proof that what is kept of each referral is what the record says: the slow definition."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby, islice
from typing import Any

from django.db import transaction

from assessments.models import Assessment
from programs.attendance.models import Visit
from programs.enrolment.models import Enrolment, Referral, ReferralTotals
from programs.enrolment.models.referral_totals import (
    COLUMNS,
    facts_of_course,
    facts_of_referrals,
    set_columns,
)
from reports.totals import totals_of

CHUNK = 2000


@dataclass(frozen=True)
class Difference:
    """A referral whose stored row is not what the record says."""

    referral: int
    columns: tuple[str, ...]  # what differs; "missing" when there is no row
    right: ReferralTotals


def worked_out(keys: list[int]) -> Iterator[ReferralTotals]:
    """What the rows of some referrals must be, from the record itself: six queries."""
    courses = {c.referral_id: c for c in Enrolment.objects.filter(referral__in=keys)}
    days = _days_of_sessions([c.pk for c in courses.values()])
    exits = Assessment.objects.filter(
        kind=Assessment.Kind.EXIT, performed_on__isnull=False, enrolment__referral__in=keys
    )
    with_exit = set(exits.order_by().values_list("enrolment", flat=True))
    for found in facts_of_referrals(keys):
        row = ReferralTotals()
        set_columns(row, **found)
        course = courses.get(row.pk)
        if course is not None:
            on = days.get(course.pk, [])
            totals = totals_of(course, on, course.pk in with_exit)
            set_columns(row, **facts_of_course(totals, left_on=course.closed_on, days=on))
        yield row


def _days_of_sessions(courses: list[int]) -> dict[int, list[Any]]:
    """A day for each counted session of some courses, in order."""
    visits = Visit.objects.counted().filter(enrolment__in=courses).order_by("enrolment", "on")
    rows = visits.values_list("enrolment", "on", "counts_first", "counts_second")
    return {
        pk: [on for _, on, first, second in group for _ in range(first + second)]
        for pk, group in groupby(rows, key=lambda row: row[0])
    }


def differences() -> Iterator[Difference]:
    """Every referral whose row is wrong or missing, by key."""
    keys = Referral.objects.order_by("pk").values_list("pk", flat=True).iterator(chunk_size=CHUNK)
    while some := list(islice(keys, CHUNK)):
        stored = ReferralTotals.objects.in_bulk(some)
        for right in worked_out(some):
            row = stored.get(right.pk)
            if row is None:
                yield Difference(right.pk, ("missing",), right)
                continue
            wrong = tuple(n for n in COLUMNS if _value(row, n) != _value(right, n))
            if wrong:
                yield Difference(right.pk, wrong, right)


def _value(row: ReferralTotals, name: str) -> Any:
    field: Any = ReferralTotals._meta.get_field(name)
    return getattr(row, field.attname)


@transaction.atomic
def mend(found: Iterable[Difference]) -> None:
    """Store what the record says, some thousand referrals at a time."""
    rest = iter(found)
    while wrong := list(islice(rest, CHUNK)):
        ReferralTotals.objects.bulk_create(
            [one.right for one in wrong],
            update_conflicts=True,
            unique_fields=["referral"],
            update_fields=COLUMNS,
        )
