"""Writes to assessments: plan, record, correct; what is due next; concerns."""

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from assessments.calc.catalogue import BY_KEY
from assessments.calc.measure import Measure
from assessments.calc.timing import KIND_NAMES, Milestone, Pausing, milestones, next_due
from assessments.models import Assessment, Concern, Measurement
from patients.calc.limits import NotScorable, OutOfRange
from patients.history import save_as
from patients.submissions import claim
from programs.enrolment.models import Enrolment
from programs.enrolment.services.enrolments import set_next_review
from programs.staff.models import User


def course_of(enrolment: Enrolment, today: date) -> list[Milestone]:
    """Every assessment the course asks for, shifted by its pauses."""
    pauses = [Pausing(p.from_on, p.until_on) for p in enrolment.pauses.all()]
    return milestones(enrolment.starts_on, enrolment.weeks, pauses, today)


@transaction.atomic
def open_assessment(enrolment: Enrolment, kind: str, number: int, *, by: User) -> Assessment:
    """The assessment of this kind and number, made if it is not there yet."""
    if kind not in KIND_NAMES:
        raise ValidationError("Unknown kind of assessment.")
    Enrolment.objects.select_for_update().get(pk=enrolment.pk)
    found = enrolment.assessments.filter(kind=kind, number=number).first()
    if found is None:
        found = Assessment(enrolment=enrolment, kind=kind, number=number)
        save_as(found, by=by, reason="opened")
    return found


@transaction.atomic
def plan_assessment(assessment: Assessment, on: date, *, by: User) -> None:
    """Book a day; raises ValidationError once it has been performed."""
    if assessment.performed_on is not None:
        raise ValidationError("This assessment was already performed.")
    assessment.planned_on = on
    save_as(assessment, by=by, reason="booked")
    tell_class_list(assessment.enrolment, by=by)


@transaction.atomic
def record(
    assessment: Assessment,
    performed_on: date,
    entries: Mapping[str, Mapping[str, Any]],
    note: str = "",
    *,
    seen: int,
    key: uuid.UUID | None,
    by: User,
) -> list[Concern]:
    """Score and store what was measured; returns the concerns it raised.

    ``entries`` maps a measure's key to its raw inputs. A measure recorded before is corrected,
    its earlier version stays in the history. An alert is raised even where no score can be.

    Raises
    ------
    AlreadyTaken, StaleVersion : as everywhere.
    ValidationError : an input is refused or cannot be scored; nothing is stored.
    """
    claim(key, by=by)
    row = (
        Assessment.objects.select_for_update(of=("self",))
        .select_related("enrolment__patient__site")
        .get(pk=assessment.pk)
    )
    row.check_version(seen)
    person = row.enrolment.patient.person
    earlier = {m.key: m.inputs for m in row.measurements.standing()}
    errors = []
    for measure_key, inputs in entries.items():
        measure = BY_KEY[measure_key]
        try:
            _store(row, measure, inputs, measure.score(inputs, person, performed_on), by=by)
        except (NotScorable, OutOfRange) as error:
            errors.append(f"{measure.name}: {error}")
    if errors:
        raise ValidationError(errors)
    row.performed_on, row.by, row.note = performed_on, by, note
    save_as(row, by=by, reason="recorded")
    news = {k: v for k, v in entries.items() if _given(v) != earlier.get(k)}
    concerns = raise_concerns(row, news, by=by)
    tell_class_list(row.enrolment, by=by)
    return concerns


def _given(inputs: Mapping[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in inputs.items() if v is not None}


def _store(
    assessment: Assessment, measure: Measure, inputs: Mapping[str, Any], result: Any, *, by: User
) -> None:
    row = assessment.measurements.standing().filter(key=measure.key).first() or Measurement(
        assessment=assessment, key=measure.key
    )
    new = {
        "inputs": _given(inputs),
        "value": result.value,
        "unit": result.unit,
        "derived": [asdict(d) for d in result.derived],
        "interpretation": result.interpretation,
        "reference": result.reference,
        "remarks": list(result.remarks),
        "is_in_range": result.is_in_range,
        "formula_version": measure.version,
    }
    if row.pk is None or any(getattr(row, name) != value for name, value in new.items()):
        for name, value in new.items():
            setattr(row, name, value)
        save_as(row, by=by, reason="scored")


@transaction.atomic
def raise_concerns(
    assessment: Assessment, entries: Mapping[str, Mapping[str, Any]], *, by: User
) -> list[Concern]:
    """Raise what must not wait. Called for refused forms too, so nothing here needs a score."""
    raised = []
    for measure_key, inputs in entries.items():
        sentence = BY_KEY[measure_key].alert(inputs)
        if sentence and not assessment.concerns.filter(key=measure_key, closed_at=None).exists():
            concern = Concern(assessment=assessment, key=measure_key, sentence=sentence, owner=by)
            save_as(concern, by=by, reason="raised")
            raised.append(concern)
    return raised


@transaction.atomic
def close_concern(concern: Concern, outcome: str, *, by: User) -> None:
    """Record what was done; raises ValidationError without words or when already closed."""
    row = Concern.objects.select_for_update().get(pk=concern.pk)
    if row.closed_at is not None:
        raise ValidationError("This concern is already closed.")
    row.closed_at, row.closed_by, row.outcome = timezone.now(), by, outcome.strip()
    save_as(row, by=by, reason="closed")


@transaction.atomic
def mark_in_error(measurement: Measurement, reason: str, *, by: User) -> None:
    """Take a measurement out of every page without deleting it."""
    if not reason.strip():
        raise ValidationError("Say why this result is wrong.")
    measurement.error_reason = reason.strip()
    save_as(measurement, by=by, reason="entered in error")


def due_next(enrolment: Enrolment) -> tuple[str, date | None]:
    """Name and day of what is due next; a booked day wins; ("", None) when nothing is.

    Reads ``pauses`` and ``assessments`` of the enrolment: prefetch them for many.
    """
    if not enrolment.is_open:
        return "", None
    today = enrolment.patient.site.today()
    mine = list(enrolment.assessments.all())
    upcoming = next_due(course_of(enrolment, today), performed(mine), today)
    if upcoming is None:
        return "", None
    booked = {(a.kind, a.number): a.planned_on for a in mine if a.performed_on is None}
    return upcoming.name, booked.get((upcoming.kind, upcoming.number)) or upcoming.due_on


def tell_class_list(enrolment: Enrolment, *, by: User) -> None:
    """Let the class list know what is due next; called whenever that may have changed."""
    fresh = Enrolment.objects.select_related("patient__site").get(pk=enrolment.pk)
    set_next_review(fresh, *due_next(fresh), by=by)


def performed(assessments: Iterable[Assessment]) -> set[tuple[str, int]]:
    return {(a.kind, a.number) for a in assessments if a.performed_on is not None}
