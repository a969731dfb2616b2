"""Finding a patient, and the clinical background."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from patients import audit, services
from patients.access import get_patient_for
from patients.forms import BACKGROUND_FORMS, plain_helper
from patients.models import Patient
from patients.submissions import AlreadyTaken, key_in, new_key


@permission_required("patients.view_patient", raise_exception=True)
def patient_list(request: HttpRequest) -> HttpResponse:
    """Search by name or record number."""
    words = request.GET.get("q", "").strip()
    found = Patient.objects.visible_to(request.user).select_related("site").matching(words)
    page = Paginator(found, 40).get_page(request.GET.get("page"))
    return render(request, "patients/list.html", {"page": page, "words": words})


@permission_required("patients.view_patient", raise_exception=True)
def background(request: HttpRequest, pk: int) -> HttpResponse:
    """Conditions, medicines, devices, precautions."""
    patient = get_patient_for(request.user, pk)
    audit.look(patient, "background", by=request.user)
    forms = {}
    for kind, form_class in BACKGROUND_FORMS.items():
        form = form_class(prefix=kind)
        form.helper = plain_helper()  # type: ignore[attr-defined]
        forms[kind] = form
    return render(request, "patients/background.html", _context(patient, forms))


def _context(patient: Patient, forms: dict[str, Any]) -> dict[str, Any]:
    return {
        "patient": patient,
        "forms": forms,
        "keys": {kind: new_key() for kind in forms},
        "conditions": list(patient.conditions.all()),
        "medicines": list(patient.medicines.all()),
        "devices": list(patient.devices.all()),
        "precautions": list(patient.precautions.all()),
    }


@permission_required("patients.add_background", raise_exception=True)
def add_background(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    user: Any = request.user
    patient = get_patient_for(user, pk)
    if kind not in BACKGROUND_FORMS or request.method != "POST":
        raise Http404
    form = BACKGROUND_FORMS[kind](request.POST, prefix=kind)
    form.instance.patient = patient
    form.helper = plain_helper()  # type: ignore[attr-defined]
    if form.is_valid():
        try:
            services.add_background(form.save(commit=False), key=key_in(request.POST), by=user)
            return redirect("patients:background", pk)
        except AlreadyTaken:
            return redirect("patients:background", pk)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    forms = {name: cls(prefix=name) for name, cls in BACKGROUND_FORMS.items()} | {kind: form}
    return render(request, "patients/background.html", _context(patient, forms))


@permission_required("patients.add_background", raise_exception=True)
def end_background(request: HttpRequest, pk: int, kind: str, row: int) -> HttpResponse:
    """Stop a medicine or lift a precaution, today."""
    user: Any = request.user
    patient = get_patient_for(user, pk)
    if request.method != "POST":
        raise Http404
    today = patient.site.today()
    try:
        if kind == "medicine" and (medicine := patient.medicines.filter(pk=row).first()):
            services.stop_medicine(medicine, today, by=user)
        elif kind == "precaution" and (found := patient.precautions.filter(pk=row).first()):
            if not user.has_perm("assessments.add_assessment") and not user.is_physician:
                raise ValidationError("A clinician lifts a precaution.")
            services.lift_precaution(found, today, by=user, reason="lifted by hand")
        else:
            raise Http404
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("patients:background", pk)
