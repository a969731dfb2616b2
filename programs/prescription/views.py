"""Prescribing: drafts from what was assessed, writes a prescription, signs it."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.calc.limits import ICD_MARGINS_IN_USE
from patients.models import BodyWeight, Device, Medicine
from patients.submissions import AlreadyTaken
from programs.enrolment.calc.record import detection_read_on
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.models import Enrolment
from programs.enrolment.risk.queries import record_of
from programs.prescription import services
from programs.prescription.calc.from_results import exceeding, threshold_below
from programs.prescription.calc.intensity import UNTESTED_ABOVE_REST_BPM
from programs.prescription.forms import PrescriptionForm
from programs.prescription.models import Prescription
from programs.prescription.queries import first_values_for, latest, offer_of
from programs.staff.request import StaffRequest


@permission_required("prescription.view_prescription", raise_exception=True)
def prescribe(request: StaffRequest, pk: int) -> HttpResponse:
    """The dose in force, its history, and a form for a new one."""
    user = request.user
    enrolment = get_enrolment_for(user, pk)
    results = latest(enrolment)
    found = offer_of(enrolment, results)
    current = enrolment.prescriptions.in_force().first()
    weighed = BodyWeight.objects.newest_of(enrolment.patient_id)
    weight_kg = weighed.kg if weighed else None
    may_write = user.has_perm("prescription.add_prescription") and enrolment.is_open
    form = None
    if may_write:
        form = PrescriptionForm(
            request.POST or None, initial=first_values_for(enrolment, current, found)
        )
        if request.method == "POST":
            done = _save(request, enrolment, form, weight_kg)
            if done is not None:
                return done
    if request.method == "GET":
        audit.look(enrolment.patient, "prescription", by=user)
    context = {
        "enrolment": enrolment,
        "patient": enrolment.patient,
        "form": form,
        "results": results,
        "offer": found,
        "exceeds": exceeding(current.target_mets if current else None, found),
        "weight_kg": weight_kg,
        "weighed": weighed,
        "doses": list(enrolment.prescriptions.select_related("by", "signed_by")),
        "on_beta_blocker": Medicine.objects.has_beta_blocker(enrolment.patient_id),
        "devices": list(Device.objects.filter(patient=enrolment.patient, removed_on=None)),
        "reread": _read_since(enrolment, current),
        "untested": UNTESTED_ABOVE_REST_BPM,
        "icd_margins": ICD_MARGINS_IN_USE,
    }
    return render(request, "prescription/prescribe.html", context)


def _read_since(enrolment: Enrolment, current: Prescription | None) -> date | None:
    """Day a detection rate was read after the dose in force was written."""
    if current is None:
        return None
    zone = enrolment.patient.site.now().tzinfo
    read_on = detection_read_on(
        record_of(enrolment.patient_id, zone), enrolment.patient.site.today()
    )
    written_on = current.at.astimezone(zone).date()
    return read_on if read_on is not None and read_on > written_on else None


def _save(
    request: StaffRequest, enrolment: Enrolment, form: PrescriptionForm, weight_kg: float | None
) -> HttpResponse | None:
    user = request.user
    if not form.is_valid():
        return None
    try:
        services.prescribe(form.draft(enrolment), weight_kg, key=form.key, by=user)
    except AlreadyTaken:
        return redirect("prescription:prescribe", enrolment.pk)
    except ValidationError as error:
        form.add_error(None, error)
        return None
    draft = f"prescription-{enrolment.pk}"
    messages.success(request, "The new prescription is in force.", extra_tags=draft)
    return redirect("prescription:prescribe", enrolment.pk)


@require_POST
@permission_required("prescription.add_prescription", raise_exception=True)
def work_out(request: StaffRequest, pk: int) -> HttpResponse:
    """Ranges and workloads for what is typed so far. Stores nothing."""
    enrolment = get_enrolment_for(request.user, pk)
    form = PrescriptionForm(request.POST)
    form.is_valid()
    context: dict[str, Any] = {"weight_kg": BodyWeight.objects.latest_kg(enrolment.patient_id)}
    real_errors = {k: v for k, v in form.errors.items() if k != "__all__"}
    if real_errors:
        context["problem"] = "Not all values are in yet."
    else:
        draft = form.draft(enrolment)
        try:
            services.work_out(draft, context["weight_kg"])
            context["draft"] = draft
            found = offer_of(enrolment, latest(enrolment))
            context["threshold_bpm"] = threshold_below(draft.high_bpm, found)
        except ValidationError as error:
            context["problem"] = " ".join(error.messages)
    return render(request, "prescription/_worked_out.html", context)


@require_POST
@permission_required("prescription.sign_plan", raise_exception=True)
def sign_prescription(request: StaffRequest, pk: int) -> HttpResponse:
    found = Prescription.objects.visible_to(request.user).select_related("enrolment__patient")
    row = get_object_or_404(found, pk=pk)
    try:
        services.sign_prescription(row, by=request.user)
        messages.success(request, "Prescription signed.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("prescription:prescribe", row.enrolment_id)
