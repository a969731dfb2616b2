"""Writes to the entry screen and the risk stratification; each is a new row, none is changed."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from patients.calc.limits import OutOfRange
from patients.history import save_as
from patients.models import Patient
from patients.submissions import claim
from programs.enrolment.calc.risk import SUPERVISION, SUPERVISION_SOURCE, RiskClass, stratify
from programs.enrolment.calc.screen import screen
from programs.enrolment.models import EntryScreen, RiskStratification, SupervisionPolicy
from programs.staff.models import Site, User


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


def supervision_of(site: Site) -> dict[str, SupervisionPolicy]:
    """What each class of risk means at a site: its own settings, else the initial ones."""
    own = {policy.risk_class: policy for policy in site.supervision.all()}
    return {str(c): own.get(str(c)) or initial_policy(site, c) for c in RiskClass}


def initial_policy(site: Site, risk_class: RiskClass) -> SupervisionPolicy:
    """The initial setting of a class, not stored until somebody changes it."""
    usual = SUPERVISION[risk_class]
    return SupervisionPolicy(
        site=site,
        risk_class=str(risk_class),
        supervised_low=usual.supervised[0],
        supervised_high=usual.supervised[1],
        supervised_days=usual.supervised_days,
        ecg_low=usual.ecg[0],
        ecg_high=usual.ecg[1],
        source=SUPERVISION_SOURCE,
    )


@transaction.atomic
def save_setting(row: Any, *, seen: int, by: User) -> None:
    """Store a site's setting; raises StaleVersion when somebody else saved in between."""
    if row.pk is not None:
        type(row).objects.select_for_update().get(pk=row.pk).check_version(seen)
    save_as(row, by=by, reason="setting changed")
