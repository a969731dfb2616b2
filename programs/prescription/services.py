"""Writes to prescriptions and treatment plans."""

import uuid
from datetime import date

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils import timezone

from assessments.calc import metabolic
from patients import audit
from patients.calc.limits import NotScorable, OutOfRange
from patients.claims import claim
from patients.history import save_as
from patients.models import AuditEvent
from programs.enrolment.models import Enrolment
from programs.prescription.calc import intensity
from programs.prescription.calc.tested import why_asked
from programs.prescription.models import Prescription, TreatmentPlan
from programs.prescription.queries import event_on
from programs.staff.models import User


@transaction.atomic
def prescribe(
    draft: Prescription, weight_kg: float | None, *, key: uuid.UUID | None = None, by: User
) -> Prescription:
    """Compute the ranges, replace the prescription in force, and store the new one.

    ``draft`` holds what was typed: method, rates, shares, RPE, METs, minutes, upper limit.

    Raises
    ------
    AlreadyTaken : this very form was stored before.
    ValidationError : the numbers do not fit together; nothing is stored.
    """
    claim(key, by=by)
    Enrolment.objects.select_for_update().get(pk=draft.enrolment_id)
    work_out(draft, weight_kg)
    draft.by = by
    for old in draft.enrolment.prescriptions.in_force():
        _keep_upper_limit(old, draft)
        old.replaced_on = draft.valid_from
        save_as(old, by=by, reason="replaced")
    save_as(draft, by=by, reason="prescribed")
    if by.is_physician:
        sign_prescription(draft, by=by)
    return draft


def _keep_upper_limit(old: Prescription, draft: Prescription) -> None:
    """An upper limit in force is raised or dropped only with a reason."""
    limit = old.upper_limit_bpm
    eased = limit is not None and (draft.upper_limit_bpm is None or draft.upper_limit_bpm > limit)
    if eased and draft.upper_limit_reason in {"", old.upper_limit_reason}:
        raise ValidationError(
            f"The prescription in force has an upper limit of {limit} /min; "
            "give the reason why it is raised or dropped."
        )


def work_out(draft: Prescription, weight_kg: float | None) -> None:
    """Turn the typed inputs into ranges and workloads; raises ValidationError. Stores nothing."""
    draft.formula_version = f"{intensity.VERSION}, {metabolic.VERSION}"
    try:
        if draft.method == Prescription.Method.RESERVE:
            _fill_heart_rates(draft)
        if draft.target_mets is not None:
            _fill_workloads(draft, draft.target_mets, weight_kg)
    except (NotScorable, OutOfRange) as error:
        raise ValidationError(str(error)) from error


def _fill_heart_rates(draft: Prescription) -> None:
    rest, peak, low, high = draft.resting_bpm, draft.peak_bpm, draft.low_share, draft.high_share
    if rest is None or peak is None or low is None or high is None:
        raise ValidationError("Heart-rate reserve needs resting rate, peak rate and both shares.")
    if draft.tested_on is None:
        raise ValidationError("When was the peak heart rate tested?")
    if draft.tested_on > draft.valid_from:
        raise ValidationError("The peak heart rate cannot have been tested in the future.")
    _check_test(draft, draft.tested_on)
    limit = (
        intensity.UpperLimit(draft.upper_limit_bpm, draft.upper_limit_reason or "set by hand")
        if draft.upper_limit_bpm
        else None
    )
    found = intensity.heart_rate_range(rest, peak, (low, high), limit)
    # Whole beats: the low end up, the high end down, so that rounding never leaves the range.
    draft.low_bpm, draft.high_bpm = int(-(-found.low_bpm // 1)), int(found.high_bpm // 1)


def _check_test(draft: Prescription, tested_on: date) -> None:
    """A test from before the event, or of long ago, carries a dose only with a reason."""
    asked = why_asked(tested_on, event_on(draft.enrolment), draft.valid_from)
    if asked and not draft.tested_because:
        words = f"The peak heart rate was {asked}: say why it still counts, or prescribe by RPE."
        raise ValidationError({"tested_because": words})
    if not asked:
        draft.tested_because = ""


def _fill_workloads(draft: Prescription, mets: float, weight_kg: float | None) -> None:
    """Treadmill and cycle settings; what lies outside an equation's range is refused or marked."""
    grade = (draft.treadmill_grade_percent or 0) / 100
    kmh = metabolic.walking_speed_for(mets, grade)
    if kmh > metabolic.FASTEST_WALK_KMH:
        slope = 100 * metabolic.grade_for(mets, metabolic.BRISK_WALK_KMH)
        raise ValidationError(
            f"{mets:g} METs at {100 * grade:g} % would need {kmh:.1f} km/h, faster than the "
            f"walking equation holds ({metabolic.FASTEST_WALK_KMH:g} km/h). About {slope:.0f} % at "
            f"{metabolic.BRISK_WALK_KMH:g} km/h costs as much: give a treadmill grade."
        )
    draft.treadmill_kmh = round(kmh, 1)
    outside = [] if kmh >= metabolic.SLOWEST_WALK_KMH else ["treadmill speed"]
    if weight_kg is not None and mets > 2:
        watts = metabolic.leg_power_for(mets, weight_kg)
        draft.cycle_w = round(watts)
        if not metabolic.leg_cycling(watts, weight_kg).is_in_range:
            outside.append("cycle power")
    draft.outside_range = " and ".join(outside)


@transaction.atomic
def sign_prescription(prescription: Prescription, *, by: User) -> None:
    """A physician takes responsibility for the dose; raises PermissionDenied for anyone else."""
    if not by.has_perm("prescription.sign_plan"):
        raise PermissionDenied("Only a physician signs a prescription.")
    if prescription.signed_at is not None:
        raise ValidationError("This prescription is already signed.")
    prescription.signed_by, prescription.signed_at = by, timezone.now()
    save_as(prescription, by=by, reason="signed")
    patient = prescription.enrolment.patient
    audit.record(AuditEvent.Kind.SIGNATURE, str(prescription), by=by, patient=patient)


@transaction.atomic
def prepare_plan(plan: TreatmentPlan, *, seen: int = 0, by: User) -> TreatmentPlan:
    """Store a draft, or a changed draft; a signed version is never touched.

    Raises
    ------
    StaleVersion : somebody else changed the draft after this form was opened.
    ValidationError : the version was signed meanwhile.
    """
    if plan.pk is not None:
        stored = TreatmentPlan.objects.select_for_update().get(pk=plan.pk)
        stored.check_version(seen)
        if stored.signed_on is not None:
            raise ValidationError("This version was signed meanwhile; prepare a new one.")
    plan.prepared_by = by
    save_as(plan, by=by, reason="prepared")
    return plan


@transaction.atomic
def sign_plan(plan: TreatmentPlan, *, seen: int, by: User) -> None:
    """Sign, with today's date at the site, the very version that was read.

    Raises
    ------
    StaleVersion : the draft changed after it was shown.
    PermissionDenied : the person is not a physician (42 CFR 410.49).
    ValidationError : the version is already signed.
    """
    if not by.has_perm("prescription.sign_plan"):
        raise PermissionDenied("Only a physician signs a treatment plan.")
    row = (
        TreatmentPlan.objects.select_for_update(of=("self",))
        .select_related("enrolment__patient__site")
        .get(pk=plan.pk)
    )
    if row.signed_on is not None:
        raise ValidationError("This version is already signed.")
    row.check_version(seen)
    row.signed_by, row.signed_on = by, row.enrolment.patient.site.today()
    save_as(row, by=by, reason="signed")
    for dose in row.enrolment.prescriptions.in_force().filter(signed_at=None):
        sign_prescription(dose, by=by)
    audit.record(AuditEvent.Kind.SIGNATURE, "treatment plan", by=by, patient=row.enrolment.patient)
