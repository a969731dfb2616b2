"""Prescribing: drafts from what was assessed, writes a prescription, signs it."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.calc.limits import NotScorable, OutOfRange
from patients.models import BodyWeight
from patients.submissions import AlreadyTaken
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.models import Enrolment
from programs.prescription import services
from programs.prescription.calc.ceilings import ICD_MARGINS_BPM
from programs.prescription.calc.intensity import UNTESTED_ABOVE_REST_BPM
from programs.prescription.forms import PrescriptionForm
from programs.prescription.models import Prescription
from programs.prescription.page import drafted_for, initial_of, page_of, worked_of
from programs.prescription.policy.queries import machines_in_use
from programs.prescription.working_out import work_out as compute
from programs.staff.request import StaffRequest
from programs.staff.units import units_of


@permission_required("prescription.view_prescription", raise_exception=True)
def prescribe(request: StaffRequest, pk: int) -> HttpResponse:
    """The dose in force, its history, and a form for a new one."""
    user = request.user
    enrolment = get_enrolment_for(user, pk)
    site = enrolment.patient.site
    current = enrolment.prescriptions.in_force(site.today()).first()
    waiting = enrolment.prescriptions.waiting().first()
    carried = waiting or current
    drafted = drafted_for(enrolment)
    context = page_of(enrolment, current, drafted)
    form = None
    if user.has_perm("prescription.add_prescription") and enrolment.is_open:
        form = PrescriptionForm(
            request.POST or None,
            initial=initial_of(enrolment, carried, drafted),
            machines=machines_in_use(site),
            today=site.today(),
            lifts=carried.lift_rows if carried is not None else (),
            units=units_of(user, site),
        )
        if request.method == "POST":
            done = _save(request, enrolment, form, context["weight_kg"])
            if done is not None:
                return done
    if request.method == "GET":
        audit.look(enrolment.patient, "prescription", by=user)
    shown = {
        "form": form,
        "waiting": waiting,
        "untested": UNTESTED_ABOVE_REST_BPM,
        "icd_margins": ICD_MARGINS_BPM,
    }
    return render(request, "prescription/prescribe.html", context | shown)


def _save(
    request: StaffRequest, enrolment: Enrolment, form: PrescriptionForm, weight_kg: float | None
) -> HttpResponse | None:
    if not form.is_valid():
        return None
    try:
        dose = services.prescribe(form.draft(enrolment), weight_kg, key=form.key, by=request.user)
    except AlreadyTaken:
        return redirect("prescription:prescribe", enrolment.pk)
    except ValidationError as error:
        form.add_error(None, error)
        return None
    draft = f"prescription-{enrolment.pk}"
    messages.success(request, _stored_words(dose), extra_tags=draft)
    return redirect("prescription:prescribe", enrolment.pk)


def _stored_words(dose: Prescription) -> str:
    """Whether it is in force, and if not why."""
    if dose.is_waiting:
        return f"Awaiting signature, not in force: {dose.beyond}."
    if dose.needs_signature:
        return f"The new prescription is in force, unsigned: {dose.beyond}."
    return "The new prescription is in force."


@require_POST
@permission_required("prescription.add_prescription", raise_exception=True)
def work_out(request: StaffRequest, pk: int) -> HttpResponse:
    """Ranges and workloads for what is typed so far. Stores nothing."""
    enrolment = get_enrolment_for(request.user, pk)
    form = PrescriptionForm(request.POST, machines=machines_in_use(enrolment.patient.site))
    form.is_valid()
    weight_kg = BodyWeight.objects.latest_kg(enrolment.patient_id)
    context: dict[str, Any] = {"problem": "Not all values are in yet."}
    if not {k for k in form.errors if k != "__all__"}:
        draft = form.draft(enrolment)
        try:
            compute(draft, weight_kg)
            context = worked_of(draft, weight_kg)
        except ValidationError as error:
            context = {"problem": " ".join(error.messages)}
        except (OutOfRange, NotScorable) as error:
            context = {"problem": str(error)}
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
