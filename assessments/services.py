"""Writes to assessments: record, correct; concerns."""

import uuid
from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from assessments.calc.catalogue import BY_KEY
from assessments.calc.measure import Measure
from assessments.calc.vitals import BODY_SIZE
from assessments.models import Assessment, AssessmentPolicy, Concern, Measurement
from assessments.services_policy import may_answer
from patients.calc.limits import NotScorable, OutOfRange
from patients.claims import claim
from patients.history import save_as
from patients.services import weigh
from programs.enrolment.models import CourseTotals, ReferralTotals
from programs.staff.models import User


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
    news = changed_entries(row, entries)
    errors = []
    for measure_key, inputs in entries.items():
        try:
            _store(row, BY_KEY[measure_key], inputs, performed_on, by=by)
        except (NotScorable, OutOfRange) as error:
            errors.append(f"{BY_KEY[measure_key].name}: {error}")
    if errors:
        raise ValidationError(errors)
    _keep_weight(row, performed_on, by=by)
    row.performed_on, row.by, row.note = performed_on, by, note
    row.not_obtained_because = ""
    save_as(row, by=by, reason="recorded")
    tell_totals(row)
    return raise_concerns(row, news, by=by)


def tell_totals(assessment: Assessment) -> None:
    """Results of the course are others now; its totals are told whether it has an exit."""
    ReferralTotals.objects.forget(pk=assessment.enrolment.referral_id)
    if assessment.kind == Assessment.Kind.EXIT:
        performed = assessment.enrolment.assessments.filter(performed_on__isnull=False)
        has_exit = performed.filter(kind=Assessment.Kind.EXIT).exists()
        CourseTotals.objects.set_exit(assessment.enrolment, has_exit)


def changed_entries(
    assessment: Assessment, entries: Mapping[str, Mapping[str, Any]]
) -> dict[str, Mapping[str, Any]]:
    """What differs from the standing results; what stood there before raises nothing again."""
    earlier = {m.key: m.inputs for m in assessment.measurements.standing()}
    return {k: v for k, v in entries.items() if _given(v) != earlier.get(k)}


def _given(inputs: Mapping[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in inputs.items() if v is not None}


def _store(
    assessment: Assessment,
    measure: Measure,
    inputs: Mapping[str, Any],
    performed_on: date,
    *,
    by: User,
) -> None:
    """Raises NotScorable or OutOfRange where nothing can be made of the inputs."""
    result = measure.score(inputs, assessment.enrolment.patient.person, performed_on)
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


def _keep_weight(assessment: Assessment, performed_on: date, *, by: User) -> None:
    """The weight among the results is the person's weight of that day."""
    found = assessment.measurements.standing().select_related("body_weight")
    for row in found.filter(key=BODY_SIZE.key):
        kept = weigh(
            assessment.enrolment.patient_id,
            row.inputs["weight_kg"],
            performed_on,
            known=row.body_weight,
            reason="assessed",
            by=by,
        )
        if row.body_weight != kept:
            row.body_weight = kept
            save_as(row, by=by, reason="weighed")


@transaction.atomic
def raise_concerns(
    assessment: Assessment, entries: Mapping[str, Mapping[str, Any]], *, by: User
) -> list[Concern]:
    """Raise what must not wait. Called for refused forms too, so nothing here needs a score."""
    raised = []
    for measure_key, inputs in entries.items():
        sentence = BY_KEY[measure_key].alert(inputs)
        if not sentence:
            continue
        concern = assessment.concerns.filter(key=measure_key, closed_at=None).first()
        if concern is None:
            owner = _answers_for(assessment, by)
            concern = Concern(assessment=assessment, key=measure_key, owner=owner)
        elif concern.sentence == sentence:
            continue
        # Whoever calls relies on the sentence: an open one says what stands now.
        is_new, concern.sentence = concern.pk is None, sentence
        save_as(concern, by=by, reason="raised" if is_new else "answered otherwise")
        raised.append(concern)
    return raised


def _answers_for(assessment: Assessment, by: User) -> User:
    """In whose hands a concern is: the site's choice, who looks after the course, who found it."""
    enrolment = assessment.enrolment
    site = enrolment.patient.site
    for person in (AssessmentPolicy.of(site).concern_owner, enrolment.clinician):
        if person is not None and may_answer(person, site):
            return person
    return by


@transaction.atomic
def hand_over(concern: Concern, to: User, *, by: User) -> None:
    """Put an open concern into somebody else's hands.

    Raises ValidationError for somebody who may not close it at this site, or once it is closed.
    """
    row = Concern.objects.select_for_update().get(pk=concern.pk)
    if row.closed_at is not None:
        raise ValidationError("This concern is already closed.")
    site = concern.assessment.enrolment.patient.site
    if not may_answer(to, site):
        raise ValidationError(f"{to} cannot close concerns at {site}.")
    row.owner = to
    save_as(row, by=by, reason=f"handed to {to}")


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
    """Take a measurement out of every page without deleting it.

    An assessment of which nothing is left was not performed: it can be booked or recorded again.
    """
    if not reason.strip():
        raise ValidationError("Say why this result is wrong.")
    assessment = Assessment.objects.select_for_update().get(pk=measurement.assessment_id)
    measurement.error_reason = reason.strip()
    save_as(measurement, by=by, reason="entered in error")
    if measurement.body_weight is not None:
        weight = measurement.body_weight
        weigh(weight.patient_id, None, weight.on, known=weight, reason=reason.strip(), by=by)
    if assessment.performed_on is not None and not assessment.measurements.standing().exists():
        assessment.performed_on, assessment.by = None, None
        save_as(assessment, by=by, reason="every result was entered in error")
    tell_totals(assessment)
