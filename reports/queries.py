"""Reads across rooms: points for outcomes."""

from typing import Any

from django.db.models import QuerySet

from assessments.calc.catalogue import MEASURES
from assessments.models import Measurement, SiteTarget
from assessments.queries_record import corrections
from patients.models import Patient
from patients.prepared import Prepared
from programs.enrolment.models import Enrolment
from reports.calc.change import STAGES, ComparisonRow, Point, compare


def _courses(patient: int) -> QuerySet[Any, Any]:
    return Enrolment.objects.filter(patient=patient).select_related("referral__condition")


_COURSES = Prepared(_courses, patient=int)


def courses_of(patient: Patient) -> list[Enrolment]:
    """Somebody's courses, the latest first: one query."""
    found: list[Enrolment] = _COURSES(patient=patient.pk)
    for course in found:
        course.patient = patient
    return found


MEASURE_NAMES = {measure.key: measure.name for measure in MEASURES}

# What a point of a measure tells of its row.
_OF_A_POINT = [
    *["value", "formula_version", "inputs", "is_in_range"],
    *["interpretation", "derived", "reference"],
]


def _measurements(enrolment: int) -> QuerySet[Any, Any]:
    rows = Measurement.objects.standing().filter(
        assessment__enrolment=enrolment, assessment__performed_on__isnull=False
    )
    told = ["assessment", "assessment__kind", "assessment__performed_on", "key", *_OF_A_POINT]
    days = rows.select_related("assessment").only(*told)
    return days.order_by("assessment__performed_on", "assessment__pk")


_MEASUREMENTS = Prepared(_measurements, enrolment=int)
_TARGETS = Prepared(
    lambda site: SiteTarget.objects.filter(site=site).values_list("key", "amount"), site=int
)


def comparison(enrolment: Enrolment, *, says_corrected: bool = True) -> list[ComparisonRow]:
    """Every measure with a result, at its stages side by side and over all days: three queries."""
    found = _MEASUREMENTS(enrolment=enrolment.pk)
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
    own = dict(_TARGETS(site=patient.site_id))
    return [
        compare(m, stages.get(m.key, {}), trends[m.key], own_targets=own, sex=patient.sex)
        for m in MEASURES
        if m.key in trends
    ]
