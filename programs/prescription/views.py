"""The treatment plan: prepare, print, sign; and signing a prescription."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.history import StaleVersion
from programs.enrolment.access import get_enrolment_for
from programs.enrolment.models import Enrolment
from programs.prescription import services
from programs.prescription.calc.components import Parts, missing_parts
from programs.prescription.calc.signature import is_late, next_signature_due
from programs.prescription.forms import TreatmentPlanForm
from programs.prescription.models import Prescription, TreatmentPlan


def draft_of(enrolment: Enrolment) -> TreatmentPlan:
    """The draft that waits, or a new one that starts from the last signed version."""
    waiting = enrolment.plans.filter(signed_on=None).first()
    if waiting is not None:
        return waiting
    last = enrolment.plans.exclude(signed_on=None).order_by("-signed_on", "-pk").first()
    new = TreatmentPlan(enrolment=enrolment)
    if last is not None:
        for name in TreatmentPlanForm.Meta.fields:
            setattr(new, name, getattr(last, name))
        return new
    dose = enrolment.prescriptions.in_force().first()
    if dose is not None:
        parts = [dose.heart_rate_words, dose.rpe_words, f"{dose.minutes} min"]
        amount = ", ".join(part for part in parts if part)
        new.exercise = f"Aerobic exercise {dose.per_week} times a week: {amount}."
    return new


def _parts(draft: TreatmentPlan, dose: Prescription | None) -> Parts:
    """What a draft holds. Assessments lie further right; they told of the baseline."""
    enrolment = draft.enrolment
    return Parts(
        has_prescription=dose is not None,
        risk_factors=draft.risk_factors,
        psychosocial=draft.psychosocial,
        has_baseline=enrolment.has_baseline,
        diagnosis=str(enrolment.referral.condition),
        exercise=draft.exercise,
        goals=draft.goals,
    )


@permission_required("prescription.view_prescription", raise_exception=True)
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """The plan of a course: versions, draft, signature."""
    user: Any = request.user
    enrolment = get_enrolment_for(user, pk)
    may_write = user.has_perm("prescription.add_plan") and enrolment.is_open
    form = TreatmentPlanForm(request.POST or None, instance=draft_of(enrolment))
    if request.method == "POST":
        if not may_write:
            raise PermissionDenied
        if form.is_valid():
            try:
                seen = request.POST.get("seen_version", "")
                services.prepare_plan(
                    form.save(commit=False), seen=int(seen) if seen.isdecimal() else 0, by=user
                )
                words = "The draft is saved and waits for signature."
                messages.success(request, words, extra_tags=f"plan-{pk}")
                return redirect("prescription:plan", pk)
            except StaleVersion:
                words = "Somebody else changed this draft meanwhile. Open it again; yours is below."
                form.add_error(None, words)
            except ValidationError as error:
                form.add_error(None, error)
    else:
        audit.look(enrolment.patient, "treatment plan", by=user)
    versions = list(enrolment.plans.select_related("prepared_by", "signed_by"))
    signed = [v.signed_on for v in versions if v.signed_on]
    due_on = next_signature_due(max(signed, default=None), enrolment.starts_on)
    draft = next((v for v in versions if v.signed_on is None), None)
    dose = enrolment.prescriptions.in_force().first()
    context = {
        "enrolment": enrolment,
        "patient": enrolment.patient,
        "form": form if may_write else None,
        "draft": draft,
        "missing": missing_parts(_parts(draft, dose)) if draft else [],
        "versions": [v for v in versions if v.signed_on],
        "dose": dose,
        "due_on": due_on,
        "is_late": is_late(due_on, enrolment.patient.site.today()),
    }
    return render(request, "prescription/plan.html", context)


@require_POST
@permission_required("prescription.sign_plan", raise_exception=True)
def sign_plan(request: HttpRequest, pk: int) -> HttpResponse:
    found = TreatmentPlan.objects.filter(
        enrolment__patient__site__in=request.user.site_ids()  # type: ignore[union-attr]
    )
    row = get_object_or_404(found, pk=pk)
    try:
        seen = request.POST.get("seen_version", "")
        services.sign_plan(row, seen=int(seen) if seen.isdecimal() else 0, by=request.user)  # type: ignore[arg-type]
        messages.success(request, "Signed.")
    except StaleVersion:
        messages.error(request, "The draft changed since you opened it. Read it again, then sign.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("prescription:plan", row.enrolment_id)


@require_POST
@permission_required("prescription.sign_plan", raise_exception=True)
def sign_prescription(request: HttpRequest, pk: int) -> HttpResponse:
    found = Prescription.objects.filter(
        enrolment__patient__site__in=request.user.site_ids()  # type: ignore[union-attr]
    ).select_related("enrolment__patient")
    row = get_object_or_404(found, pk=pk)
    try:
        services.sign_prescription(row, by=request.user)  # type: ignore[arg-type]
        messages.success(request, "Signed.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("assessments:prescribe", row.enrolment_id)
