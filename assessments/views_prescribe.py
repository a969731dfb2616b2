"""Prescribing from results: reads what was assessed, writes a prescription."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from assessments.calc.for_prescription import Found, Offer, offer
from assessments.models import Measurement
from patients import audit
from patients.models import BodyWeight, Device, Medicine
from patients.submissions import AlreadyTaken
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


def offer_of(results: dict[str, Measurement]) -> Offer:
    """What the newest results offer to a prescription."""
    found = {
        key: Found(
            m.value,
            m.inputs,
            {d["label"]: d["value"] for d in m.derived},
            m.assessment.performed_on,
            m.measure.name,
            m.shown,
        )
        for key, m in results.items()
        if m.assessment.performed_on is not None
    }
    return offer(found)


def suggestions(enrolment: Enrolment, found: Offer) -> dict[str, Any]:
    """First values of the form, from the results and the dose in force; all can be changed.

    What was measured after the dose in force was written comes before what it carries on.
    """
    initial: dict[str, Any] = {"method": Prescription.Method.EXERTION}
    current = enrolment.prescriptions.in_force().first()
    if current is not None:
        initial |= _carried(current)
    if found.resting_bpm is not None:
        initial["resting_bpm"] = found.resting_bpm
    since = current.valid_from if current is not None else date.min
    work, in_force = found.work, initial.get("target_mets")
    if work is not None and (in_force is None or work.on > since):
        # A walk never lowers the work in force: it shows what was done, not what could be.
        raises = in_force is None or work.is_capacity or work.mets > in_force
        initial["target_mets"] = work.mets if raises else in_force
    tested = found.tested
    known = initial.get("tested_on")
    if tested is not None and tested.on > max(since, known or date.min):
        initial |= {"method": Prescription.Method.RESERVE, "peak_bpm": tested.peak_bpm}
        initial |= {"tested_on": tested.on}
        if tested.resting_bpm is not None:
            initial["resting_bpm"] = tested.resting_bpm
    return initial | _upper_limit(enrolment, found, initial.get("upper_limit_bpm"))


def _carried(current: Prescription) -> dict[str, Any]:
    names = ["method", "peak_bpm", "tested_on", "rpe_low", "rpe_high", "minutes", "per_week"]
    names += ["upper_limit_bpm", "upper_limit_reason", "treadmill_grade_percent", "target_mets"]
    carried = {name: getattr(current, name) for name in names}
    if current.low_share is not None and current.high_share is not None:
        carried["low_percent"] = round(current.low_share * 100)
        carried["high_percent"] = round(current.high_share * 100)
    return carried


def _upper_limit(enrolment: Enrolment, found: Offer, known: int | None) -> dict[str, Any]:
    """The lowest of the limits that devices and tests set, where lower than the one in force."""
    rates = [
        d.detection_bpm
        for d in Device.objects.filter(patient=enrolment.patient, removed_on=None)
        if d.detection_bpm
    ]
    limit = upper_limit(
        icd_detection_bpm=min(rates) if rates else None, ischaemia_bpm=found.ischaemia_bpm
    )
    if limit is None or (known is not None and limit.bpm >= known):
        return {}
    return {"upper_limit_bpm": round(limit.bpm), "upper_limit_reason": limit.reason}


@permission_required("prescription.view_prescription", raise_exception=True)
def prescribe(request: HttpRequest, pk: int) -> HttpResponse:
    """The dose in force, its history, and a form for a new one."""
    user: Any = request.user
    enrolment = get_enrolment_for(user, pk)
    results = latest(enrolment)
    found = offer_of(results)
    may_write = user.has_perm("prescription.add_prescription") and enrolment.is_open
    form = None
    if may_write:
        form = PrescriptionForm(request.POST or None, initial=suggestions(enrolment, found))
        if request.method == "POST":
            done = _save(
                request, enrolment, form, BodyWeight.objects.latest_kg(enrolment.patient_id)
            )
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
        "exceeds": _exceeding(enrolment, found),
        "weight_kg": BodyWeight.objects.latest_kg(enrolment.patient_id),
        "doses": list(enrolment.prescriptions.select_related("by", "signed_by")),
        "on_beta_blocker": Medicine.objects.has_beta_blocker(enrolment.patient_id),
        "devices": list(Device.objects.filter(patient=enrolment.patient, removed_on=None)),
        "untested": UNTESTED_ABOVE_REST_BPM,
    }
    return render(request, "prescription/prescribe.html", context)


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
    context: dict[str, Any] = {"weight_kg": BodyWeight.objects.latest_kg(enrolment.patient_id)}
    real_errors = {k: v for k, v in form.errors.items() if k != "__all__"}
    if real_errors:
        context["problem"] = "Not all values are in yet."
    else:
        draft = form.draft(enrolment)
        try:
            services.work_out(draft, context["weight_kg"])
            context["draft"] = draft
            context["threshold_bpm"] = _threshold_below(draft, offer_of(latest(enrolment)))
        except ValidationError as error:
            context["problem"] = " ".join(error.messages)
    return render(request, "prescription/_worked_out.html", context)


def _threshold_below(draft: Prescription, found: Offer) -> float | None:
    """The first threshold, when the upper end of the range lies above it."""
    high, threshold = draft.high_bpm, found.threshold_bpm
    return threshold if high is not None and threshold is not None and high > threshold else None


def _exceeding(enrolment: Enrolment, found: Offer) -> float | None:
    """The work in force, when it lies above what the newest tests offer. [METs]"""
    dose = enrolment.prescriptions.in_force().first()
    if dose is None or dose.target_mets is None or found.work is None:
        return None
    return dose.target_mets if dose.target_mets > found.work.mets else None
