"""What figures of many courses read: gains, signatures, six-week reassessments of each course.

Counted here from the record, of those courses that are to be counted again
(``programs.enrolment.models.course_counts``), before a figure reads them.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, fields
from datetime import date, timedelta
from itertools import islice
from typing import Any

from django.db import transaction

from assessments.calc.catalogue import MEASURES
from assessments.calc.timing import SIX_WEEKS_DAYS, WINDOWS
from assessments.models import Assessment, Measurement
from programs.enrolment.models import (
    Enrolment,
    GainTotals,
    Pause,
    ReferralTotals,
    SignatureTotals,
)
from programs.prescription.models import TreatmentPlan
from reports.calc.change import Point
from reports.calc.cohort import CourseGain, course_gain
from reports.calc.signatures import DueSignature, due_signatures

CHUNK = 500  # courses counted and stored together: a quarter of a second
AMOUNTS = {measure.key: measure for measure in MEASURES if not measure.categories}
EARLY, LATE = WINDOWS["six_weeks"]
_OF_A_RESULT = (
    "assessment__enrolment", "key", "assessment__kind", "assessment__performed_on", "value",
    "formula_version", "inputs", "is_in_range",
)  # fmt: skip


@dataclass
class Counted:
    """What one course comes to; six weeks are the last day of the window, None if none was due."""

    gains: dict[str, CourseGain] = field(default_factory=dict)  # by measure
    signatures: list[DueSignature] = field(default_factory=list)
    six_weeks_on: date | None = None
    six_weeks_in_time: bool = False


def worked_out(referrals: Sequence[int]) -> dict[int, Counted]:
    """What the courses of some referrals come to, from the record itself: five queries."""
    found = {pk: Counted() for pk in referrals}
    courses = Enrolment.objects.filter(referral__pk__listed=referrals).order_by()
    rows = list(courses.values_list("pk", "referral", "starts_on", "closed_on"))
    keys = [pk for pk, *_ in rows]
    signed = _days(TreatmentPlan, "signed_on", keys)
    reassessed = _days(Assessment, "performed_on", keys, kind=Assessment.Kind.SIX_WEEKS)
    paused = _days(Pause, "from_on", keys)
    gains = _gains(keys)
    for pk, referral, starts_on, closed_on in rows:
        course = found[referral]
        course.gains = gains.get(pk, {})
        course.signatures = due_signatures(starts_on, closed_on, signed.get(pk, ()))
        day_42 = starts_on + timedelta(days=SIX_WEEKS_DAYS)
        last = day_42 + timedelta(days=LATE)
        if pk not in paused and (closed_on is None or closed_on > last):
            first = day_42 - timedelta(days=EARLY)
            course.six_weeks_on = last
            course.six_weeks_in_time = any(first <= on <= last for on in reassessed.get(pk, ()))
    return found


def _days(model: Any, day: str, courses: list[int], **of: Any) -> dict[int, list[date]]:
    """The days of something, by course."""
    rows = model.objects.filter(enrolment__pk__listed=courses, **{f"{day}__isnull": False}, **of)
    found: dict[int, list[date]] = defaultdict(list)
    for course, on in rows.order_by().values_list("enrolment", day):
        found[course].append(on)
    return found


def _gains(courses: list[int]) -> dict[int, dict[str, CourseGain]]:
    """What each course gained, by measure."""
    standing = Measurement.objects.standing().filter(
        assessment__enrolment__pk__listed=courses,
        assessment__performed_on__isnull=False,
        key__in=list(AMOUNTS),
    )
    told = standing.order_by("assessment__performed_on", "assessment").values_list(*_OF_A_RESULT)
    results: dict[tuple[int, str], list[tuple[str, Point]]] = defaultdict(list)
    for course, key, kind, on, value, version, inputs, is_in_range in told:
        results[course, key].append((kind, Point(value, on, version, inputs, is_in_range)))
    found: dict[int, dict[str, CourseGain]] = defaultdict(dict)
    for (course, key), of in results.items():
        found[course][key] = course_gain(AMOUNTS[key], of)
    return found


def count(rows: Any) -> None:
    """Count those of some courses that are to be counted again, each chunk by itself."""
    waiting = rows.filter(is_counted=False, planned__isnull=False).order_by()
    while keys := list(waiting.values_list("pk", flat=True)[:CHUNK]):
        _count(keys)


@transaction.atomic
def _count(keys: list[int]) -> None:
    """Nobody who writes one of these courses is stored before, and then forgotten."""
    locked = ReferralTotals.objects.select_for_update().filter(pk__in=keys, is_counted=False)
    rows = list(locked.order_by("pk"))
    found = worked_out([row.pk for row in rows])
    for kept in (GainTotals, SignatureTotals):
        kept.objects.filter(referral__in=rows).delete()
    GainTotals.objects.bulk_create(
        GainTotals(referral=row, key=key, **_stored(gain))
        for row in rows
        for key, gain in found[row.pk].gains.items()
    )
    SignatureTotals.objects.bulk_create(
        SignatureTotals(
            referral=row, site_id=row.site_id, counts_on=one.counts_on, is_in_time=one.is_in_time
        )
        for row in rows
        for one in found[row.pk].signatures
    )
    for row in rows:
        row.is_counted = True
        row.six_weeks_on = found[row.pk].six_weeks_on
        row.six_weeks_in_time = found[row.pk].six_weeks_in_time
    ReferralTotals.objects.bulk_update(rows, ["is_counted", "six_weeks_on", "six_weeks_in_time"])


def _stored(gain: CourseGain) -> dict[str, Any]:
    return {
        "ends": int(gain.ends),
        "first": gain.first,
        "change": gain.change,
        "reached": gain.reached,
        "again": gain.again,
    }


# --- the proof ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Difference:
    """A course of which something else is kept than the record says."""

    referral: int
    kept: tuple[str, ...]  # which of it


def differences() -> Iterator[Difference]:
    """Every counted course of which something is kept that the record does not say, by key."""
    counted = ReferralTotals.objects.filter(is_counted=True).order_by("pk")
    rows = counted.iterator(chunk_size=CHUNK)
    while some := list(islice(rows, CHUNK)):
        keys = [row.pk for row in some]
        gains, signatures = _kept_gains(keys), _kept_signatures(keys)
        right = worked_out(keys)
        for row in some:
            of = right[row.pk]
            signed = sorted((row.site_id, s.counts_on, s.is_in_time) for s in of.signatures)
            alike = {
                "gains": gains[row.pk] == {k: _stored(gain) for k, gain in of.gains.items()},
                "signatures": sorted(signatures[row.pk]) == signed,
                "six weeks": (row.six_weeks_on, row.six_weeks_in_time)
                == (of.six_weeks_on, of.six_weeks_in_time),
            }
            if wrong := tuple(name for name, is_alike in alike.items() if not is_alike):
                yield Difference(row.pk, wrong)


def _kept_gains(keys: list[int]) -> dict[int, dict[str, dict[str, Any]]]:
    found: dict[int, dict[str, dict[str, Any]]] = defaultdict(dict)
    names = [one.name for one in fields(CourseGain)]
    for row in GainTotals.objects.filter(referral__in=keys).values("referral", "key", *names):
        found[row.pop("referral")][row.pop("key")] = row
    return found


def _kept_signatures(keys: list[int]) -> dict[int, list[tuple[int, date, bool]]]:
    found: dict[int, list[tuple[int, date, bool]]] = defaultdict(list)
    rows = SignatureTotals.objects.filter(referral__in=keys)
    for referral, *told in rows.values_list("referral", "site", "counts_on", "is_in_time"):
        found[referral].append(tuple(told))  # type: ignore[arg-type]
    return found


def mend(wrong: Iterable[Difference]) -> None:
    """Count anew what differs, and what waits to be counted, so that nobody waits for it."""
    ReferralTotals.objects.forget(pk__in=[one.referral for one in wrong])
    count(ReferralTotals.objects.all())
