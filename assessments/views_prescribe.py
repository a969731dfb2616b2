"""Prescribing from results: reads what was assessed, writes a prescription."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from assessments.models import Measurement
from patients import audit
from patients.models import Device, Medicine
from patients.submissions import AlreadyTaken
from programs.attendance.models import Reading
from programs.enrolment.access import get_enrolment_for
from programs.enrolment.models import Enrolment
from programs.prescription import services
from programs.prescription.calc.intensity import UNTESTED_ABOVE_REST_BPM, upper_limit
from programs.prescription.forms import PrescriptionForm
from programs.prescription.models import Prescription


def latest(enrolment: Enrolment) -> dict[str, Measurement]:
    """The newest standing result of each measure."""
    found = (
        Measurement.objects.standing()
        .filter(assessment__enrolment=enrolment, assessment__performed_on__isnull=False)
        .select_related("assessment")
        .order_by("assessment__performed_on", "pk")
    )
    return {measurement.key: measurement for measurement in found}


def body_mass(enrolment: Enrolment, results: dict[str, Measurement]) -> float | None:
    """The last weighed mass: in class, else at an assessment. [kg]"""
    last = (
        Reading.objects.filter(visit__enrolment=enrolment, weight_kg__isnull=False)
        .order_by("-taken_at")
        .values_list("weight_kg", flat=True)
        .first()
    )
    size = results.get("body_mass_index")
    return last if last is not None else (size.inputs.get("weight_kg") if size else None)


def suggestions(enrolment: Enrolment, results: dict[str, Measurement]) -> dict[str, Any]:
    """First values of the form, from the results and the background; all can be changed."""
    initial: dict[str, Any] = {"method": Prescription.Method.EXERTION}
    rest = results.get("resting_heart_rate")
    if rest is not None and rest.value is not None:
        initial["resting_bpm"] = round(rest.value)
    walk = results.get("six_minute_walk")
    mets = next((d["value"] for d in walk.derived if d["unit"] == "METs"), None) if walk else None
    if mets is not None:
        initial["target_mets"] = round(mets, 1)
    current = enrolment.prescriptions.in_force().first()
    if current is not None:
        carried = ["method", "peak_bpm", "tested_on", "rpe_low", "rpe_high", "minutes", "per_week"]
        for name in [*carried, "upper_limit_bpm", "upper_limit_reason"]:
            initial[name] = getattr(current, name)
        initial["treadmill_grade_percent"] = current.treadmill_grade_percent
        is_newer = (
            walk is not None and (walk.assessment.performed_on or date.min) > current.valid_from
        )
        if current.target_mets is not None and not is_newer:
            initial["target_mets"] = current.target_mets
        if current.low_share is not None and current.high_share is not None:
            initial["low_percent"] = round(current.low_share * 100)
            initial["high_percent"] = round(current.high_share * 100)
    rates = [
        d.detection_bpm
        for d in Device.objects.filter(patient=enrolment.patient, removed_on=None)
        if d.detection_bpm
    ]
    limit = upper_limit(icd_detection_bpm=min(rates) if rates else None)
    known = initial.get("upper_limit_bpm")
    if limit is not None and (known is None or limit.bpm < known):
        initial |= {"upper_limit_bpm": round(limit.bpm), "upper_limit_reason": limit.reason}
    return initial


@permission_required("prescription.view_prescription", raise_exception=True)
def prescribe(request: HttpRequest, pk: int) -> HttpResponse:
    """The dose in force, its history, and a form for a new one."""
    user: Any = request.user
    enrolment = get_enrolment_for(user, pk)
    results = latest(enrolment)
    may_write = user.has_perm("prescription.add_prescription") and enrolment.is_open
    form = None
    if may_write:
        form = PrescriptionForm(request.POST or None, initial=suggestions(enrolment, results))
        if request.method == "POST":
            done = _save(request, enrolment, form, body_mass(enrolment, results))
            if done is not None:
                return done
    if request.method == "GET":
        audit.look(enrolment.patient, "prescription", by=user)
    context = {
        "enrolment": enrolment,
        "patient": enrolment.patient,
        "form": form,
        "results": results,
        "weight_kg": body_mass(enrolment, results),
        "doses": list(enrolment.prescriptions.select_related("by", "signed_by")),
        "on_beta_blocker": _on(enrolment, Medicine.DrugClass.BETA_BLOCKER),
        "devices": list(Device.objects.filter(patient=enrolment.patient, removed_on=None)),
        "untested": UNTESTED_ABOVE_REST_BPM,
    }
    return render(request, "prescription/prescribe.html", context)


def _on(enrolment: Enrolment, drug_class: str) -> bool:
    return Medicine.objects.filter(
        patient=enrolment.patient, drug_class=drug_class, stopped_on=None
    ).exists()


def _save(
    request: HttpRequest, enrolment: Enrolment, form: PrescriptionForm, weight_kg: float | None
) -> HttpResponse | None:
    user: Any = request.user
    if not form.is_valid():
        return None
    try:
        services.prescribe(form.draft(enrolment), weight_kg, key=form.key, by=user)
    except AlreadyTaken:
        return redirect("assessments:prescribe", enrolment.pk)
    except ValidationError as error:
        form.add_error(None, error)
        return None
    draft = f"prescription-{enrolment.pk}"
    messages.success(request, "The new prescription is in force.", extra_tags=draft)
    return redirect("assessments:prescribe", enrolment.pk)


@require_POST
@permission_required("prescription.add_prescription", raise_exception=True)
def work_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Ranges and workloads for what is typed so far. Stores nothing."""
    enrolment = get_enrolment_for(request.user, pk)
    form = PrescriptionForm(request.POST)
    form.is_valid()
    context: dict[str, Any] = {"weight_kg": body_mass(enrolment, latest(enrolment))}
    real_errors = {k: v for k, v in form.errors.items() if k != "__all__"}
    if real_errors:
        context["problem"] = "Not all values are in yet."
    else:
        draft = form.draft(enrolment)
        try:
            services.work_out(draft, context["weight_kg"])
            context["draft"] = draft
        except ValidationError as error:
            context["problem"] = " ".join(error.messages)
    return render(request, "prescription/_worked_out.html", context)
