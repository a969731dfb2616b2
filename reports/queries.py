"""Reads across rooms: courses for completion, points for outcomes."""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from assessments.calc.catalogue import MEASURES
from assessments.models import Assessment, Measurement, SiteTarget
from assessments.queries_record import corrections
from programs.attendance.models.visit import Sessions, Visit
from programs.enrolment.calc.calendar import last_course_day
from programs.enrolment.calc.start_clock import counted_from
from programs.enrolment.models import Enrolment
from reports.calc.change import STAGES, ComparisonRow, Point, compare
from reports.calc.completion import CourseFacts

NAMES = (
    "pk",
    "patient__site__name",
    "starts_on",
    "sessions_planned",
    "closed_on",
    "outcome",
    "referral__discharged_on",
    "referral__condition__happened_on",
    "referral__referred_on",
)


def course_facts(site_ids: Iterable[int], since: date, until: date) -> list[CourseFacts]:
    """Raw facts of every course that began in a span of days: five queries however many."""
    sites = list(site_ids)
    courses = Enrolment.objects.filter(patient__site__in=sites, starts_on__range=(since, until))
    mine = {
        "enrolment__patient__site__in": sites,
        "enrolment__starts_on__range": (since, until),
    }
    counted = Visit.objects.filter(**mine).sessions_by_course()
    exits = set(
        Assessment.objects.filter(
            kind=Assessment.Kind.EXIT, performed_on__isnull=False, **mine
        ).values_list("enrolment", flat=True)
    )
    beyond = _sessions_beyond_course(counted)
    rows: list[Any] = list(courses.order_by().values(*NAMES))
    return [_facts_of(row, counted, exits, beyond) for row in rows]


def _facts_of(
    row: dict[str, Any], counted: dict[int, Sessions], exits: set[int], beyond: dict[int, int]
) -> CourseFacts:
    sessions = counted.get(row["pk"])
    n = sessions.n if sessions else 0
    _, since = counted_from(
        row["referral__discharged_on"],
        row["referral__condition__happened_on"],
        row["referral__referred_on"],
    )
    return CourseFacts(
        site=row["patient__site__name"],
        starts_on=row["starts_on"],
        sessions=n,
        sessions_in_36_weeks=n - beyond.get(row["pk"], 0),
        planned=row["sessions_planned"],
        has_exit_assessment=row["pk"] in exits,
        has_ended=row["closed_on"] is not None,
        days_to_start=(sessions.first_on - since).days if sessions else None,
        outcome=row["outcome"],
    )


def _sessions_beyond_course(counted: dict[int, Sessions]) -> dict[int, int]:
    """Counted sessions after the 36 weeks, for the few courses that lasted longer."""
    long = {
        pk: last_course_day(sessions.first_on)
        for pk, sessions in counted.items()
        if sessions.last_on > last_course_day(sessions.first_on)
    }
    beyond: dict[int, int] = dict.fromkeys(long, 0)
    if not long:
        return beyond
    for visit in (
        Visit.objects.counted()
        .filter(enrolment__in=long)
        .only("enrolment_id", "on", "counts_first", "counts_second")
    ):
        if visit.on > long[visit.enrolment_id]:
            beyond[visit.enrolment_id] += visit.sessions_counted
    return beyond


def year_before(day: date) -> date:
    return day - timedelta(days=425)  # fourteen months: a year of starters with room to finish


def comparison(enrolment: Enrolment, *, says_corrected: bool = True) -> list[ComparisonRow]:
    """Every measure with a result, at its stages side by side and over all days: three queries."""
    found = list(
        Measurement.objects.standing()
        .filter(assessment__enrolment=enrolment, assessment__performed_on__isnull=False)
        .select_related("assessment")
        .order_by("assessment__performed_on", "assessment__pk")
    )
    earlier = corrections(found) if says_corrected else {}
    stages: dict[str, dict[str, Point]] = {}
    trends: dict[str, list[Point]] = {}
    for m in found:
        point = Point(
            m.value,
            m.assessment.performed_on,
            m.formula_version,
            m.inputs,
            m.is_in_range,
            m.interpretation,
            str(m.assessment),
            m.derived_values,
            earlier.get(m.pk, ()),
            m.reference,
        )
        trends.setdefault(m.key, []).append(point)
        if m.assessment.kind in STAGES:
            stages.setdefault(m.key, {})[m.assessment.kind] = point
    patient = enrolment.patient
    own = dict(SiteTarget.objects.filter(site=patient.site_id).values_list("key", "amount"))
    return [
        compare(m, stages.get(m.key, {}), trends[m.key], own_targets=own, sex=patient.sex)
        for m in MEASURES
        if m.key in trends
    ]
