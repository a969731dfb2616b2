"""Reads across rooms: courses for completion, points for outcomes."""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Exists, Max, Min, OuterRef, Q

from assessments.calc.catalogue import MEASURES
from assessments.models import Assessment, Measurement
from programs.attendance.models import Visit
from programs.enrolment.calc.calendar import last_course_day
from programs.enrolment.models import Enrolment
from reports.calc.change import STAGES, ComparisonRow, Point, compare
from reports.calc.completion import CourseFacts

FIRST = Q(visits__counts_first=True)
SECOND = Q(visits__counts_second=True)


def course_facts(site_ids: Iterable[int], since: date, until: date) -> list[CourseFacts]:
    """Raw facts of every course that began in a span of days."""
    exits = Assessment.objects.filter(
        enrolment=OuterRef("pk"), kind=Assessment.Kind.EXIT, performed_on__isnull=False
    )
    rows: list[Any] = list(
        Enrolment.objects.filter(patient__site__in=site_ids, starts_on__range=(since, until))
        .order_by()
        .annotate(
            n_first=Count("visits", filter=FIRST),
            n_second=Count("visits", filter=SECOND),
            first_on=Min("visits__on", filter=FIRST),
            last_on=Max("visits__on", filter=FIRST),
            has_exit=Exists(exits),
        )
        .values(
            "pk",
            "patient__site__name",
            "starts_on",
            "sessions_planned",
            "closed_on",
            "outcome",
            "n_first",
            "n_second",
            "first_on",
            "last_on",
            "has_exit",
            "referral__discharged_on",
            "referral__condition__happened_on",
            "referral__referred_on",
        )
    )
    beyond = _sessions_beyond_course(rows)
    return [_facts_of(row, beyond) for row in rows]


def _facts_of(row: dict[str, Any], beyond: dict[int, int]) -> CourseFacts:
    sessions = row["n_first"] + row["n_second"]
    anchor = (
        row["referral__discharged_on"]
        or row["referral__condition__happened_on"]
        or row["referral__referred_on"]
    )
    return CourseFacts(
        site=row["patient__site__name"],
        starts_on=row["starts_on"],
        sessions=sessions,
        sessions_in_36_weeks=sessions - beyond.get(row["pk"], 0),
        planned=row["sessions_planned"],
        has_exit_assessment=row["has_exit"],
        has_ended=row["closed_on"] is not None,
        days_to_start=(row["first_on"] - anchor).days if row["first_on"] else None,
        outcome=row["outcome"],
    )


def _sessions_beyond_course(rows: list[dict[str, Any]]) -> dict[int, int]:
    """Counted sessions after the 36 weeks, for the few courses that lasted longer."""
    long = {
        row["pk"]: last_course_day(row["first_on"])
        for row in rows
        if row["first_on"] and row["last_on"] > last_course_day(row["first_on"])
    }
    beyond: dict[int, int] = dict.fromkeys(long, 0)
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


def comparison(enrolment: Enrolment) -> list[ComparisonRow]:
    """Every measure with a result at baseline, six weeks or exit, side by side."""
    found = (
        Measurement.objects.standing()
        .filter(
            assessment__enrolment=enrolment,
            assessment__kind__in=STAGES,
            assessment__performed_on__isnull=False,
        )
        .select_related("assessment")
    )
    points: dict[str, dict[str, Point]] = {}
    for m in found:
        points.setdefault(m.key, {})[m.assessment.kind] = Point(
            m.value,
            m.assessment.performed_on,
            m.formula_version,
            m.inputs,
            m.is_in_range,
            m.interpretation,
        )
    return [compare(m, points[m.key]) for m in MEASURES if m.key in points]
