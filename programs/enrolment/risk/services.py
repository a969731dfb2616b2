"""Writes to the entry screen and the risk stratification; each is a new row, none is changed."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from patients.calc.limits import OutOfRange
from patients.claims import claim
from patients.history import save_as
from patients.models import Patient
from programs.enrolment.calc.risk import stratify
from programs.enrolment.calc.screen import screen
from programs.enrolment.models import EntryScreen, RiskStratification
from programs.staff.models import User


@transaction.atomic
def record_screen(
    patient: Patient,
    answers: Mapping[str, Any],
    decision: str,
    reason: str = "",
    *,
    has_heart_failure: bool,
    key: uuid.UUID | None = None,
    by: User,
) -> EntryScreen:
    """Store the answers with what they amount to and what the clinician decided.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValidationError : a reading is impossible, or starting in spite of something has no reason.
    """
    claim(key, by=by)
    given = {name: value for name, value in answers.items() if value is not None}
    try:
        result = screen(given, has_heart_failure=has_heart_failure)
    except OutOfRange as error:
        raise ValidationError(str(error)) from error
    row = EntryScreen(
        patient=patient,
        answers=given,
        found=str(result.found),
        findings=result.sentences,
        unanswered=list(result.unanswered),
        decision=decision,
        reason=reason,
        by=by,
    )
    save_as(row, by=by, reason=reason)
    return row


@transaction.atomic
def record_risk(
    patient: Patient,
    answers: Mapping[str, Any],
    decided: str,
    reason: str = "",
    *,
    has_test: bool,
    occasion: str = RiskStratification.Occasion.ENTRY,
    key: uuid.UUID | None = None,
    by: User,
) -> RiskStratification:
    """Store the class the criteria give and the one the clinician decides on.

    An empty ``decided`` takes the computed class.

    Raises
    ------
    AlreadyTaken : the same form was saved before.
    ValidationError : a number is impossible, or deciding otherwise has no reason.
    """
    claim(key, by=by)
    given = {name: value for name, value in answers.items() if value not in (None, "")}
    try:
        result = stratify(given, has_test=has_test)
    except OutOfRange as error:
        raise ValidationError(str(error)) from error
    row = RiskStratification(
        patient=patient,
        occasion=occasion,
        answers=given | {"has_test": has_test},
        computed=str(result.risk_class),
        decided=decided or str(result.risk_class),
        deciding=list(result.deciding),
        missing=list(result.missing),
        remarks=list(result.remarks),
        reason=reason,
        by=by,
    )
    save_as(row, by=by, reason=reason)
    return row
