"""Finding a patient, and the clinical background."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.db.models import prefetch_related_objects
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from patients import audit, services
from patients.access import get_patient_for
from patients.background import suggestions_for
from patients.forms import FindForm, change_data
from patients.forms_person import BACKGROUND_FORMS, DetailsForm, DetectionForm, ReviewForm
from patients.history import StaleVersion
from patients.models import BodyWeight, Patient
from patients.paging import page_of
from patients.submissions import AlreadyTaken, key_in, new_key
from patients.viewer import ViewerRequest


@permission_required("patients.view_patient", raise_exception=True)
def patient_list(request: ViewerRequest) -> HttpResponse:
    """Search by the beginning of a name, of the record number or the phone, or by birth date."""
    words = request.GET.get("q", "").strip()
    found = Patient.objects.visible_to(request.user).prefetch_related("site").matching(words)
    page = page_of(request, found, order=["family_name", "given_name", "pk"])
    label = "Name, date of birth, record number or phone"
    find = FindForm("q", label, words, placeholder=label, autofocus=True)
    return render(request, "patients/list.html", {"page": page, "words": words, "find": find})


@permission_required("patients.view_patient", raise_exception=True)
def background(request: ViewerRequest, pk: int) -> HttpResponse:
    """Everything that bears on exercise: conditions to precautions, and what is missing."""
    patient = get_patient_for(request.user, pk)
    audit.look(patient, "background", by=request.user)
    forms = {kind: form_class(prefix=kind) for kind, form_class in BACKGROUND_FORMS.items()}
    return render(request, "patients/background.html", _context(patient, forms))


def _context(
    patient: Patient, forms: dict[str, Any], refused: tuple[str, int, Any] | None = None
) -> dict[str, Any]:
    """What the page shows; ``refused`` is a form beside one row, as it was typed."""
    today = patient.site.today()
    prefetch_related_objects(
        [patient],
        "conditions",
        "procedures",
        "medicines",
        "devices",
        "allergies",
        "precautions",
    )
    return {
        "patient": patient,
        "today": today,
        "weighed": BodyWeight.objects.newest_of(patient.pk),
        "adds": {kind: {"kind": kind, "form": forms[kind], "key": new_key()} for kind in forms},
        "devices": [(row, _beside("device", row.pk, refused)) for row in patient.devices.all()],
        "precautions": [
            (row, _beside("precaution", row.pk, refused)) for row in patient.precautions.all()
        ],
        "suggestions": suggestions_for(patient, today),
    }


@permission_required("patients.add_background", raise_exception=True)
def details(request: ViewerRequest, pk: int) -> HttpResponse:
    """Who the person is: names, emergency contact, language, walking aid, tobacco."""
    user = request.user
    patient = get_patient_for(user, pk)
    form = DetailsForm(request.POST or None, instance=patient, today=patient.site.today())
    if request.method == "POST" and form.is_valid():
        try:
            services.change_person(form.save(commit=False), seen=form.seen, key=form.key, by=user)
            messages.success(request, "Saved.")
            return redirect("patients:background", pk)
        except AlreadyTaken:
            return redirect("patients:background", pk)
        except StaleVersion as stale:
            stored: Any = stale.row
            words = ["Somebody else changed this meanwhile.", *form.against(stored)]
            form.add_error(None, [*words, "Correct it, or save again to keep what stands here."])  # type: ignore[arg-type]
            change_data(form, seen_version=str(stored.version), submission_key=str(new_key()))
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    elif request.method != "POST":
        audit.look(patient, "details", by=user)
    return render(request, "patients/details.html", {"form": form, "patient": patient})


@permission_required("patients.add_background", raise_exception=True)
def add_background(request: ViewerRequest, pk: int, kind: str) -> HttpResponse:
    user = request.user
    patient = get_patient_for(user, pk)
    if kind not in BACKGROUND_FORMS or request.method != "POST":
        raise Http404
    form = BACKGROUND_FORMS[kind](request.POST, prefix=kind)
    form.instance.patient, form.day = patient, patient.site.today()
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
def end_background(request: ViewerRequest, pk: int, kind: str, row: int) -> HttpResponse:
    """Stop a medicine, end a device, refute an allergy, lift or keep a precaution, today."""
    user = request.user
    patient = get_patient_for(user, pk)
    if request.method != "POST":
        raise Http404
    found: Any = (
        {
            "medicine": patient.medicines,
            "device": patient.devices,
            "allergy": patient.allergies,
            "precaution": patient.precautions,
        }.get(kind, patient.medicines.none())
        .filter(pk=row)
        .first()
    )  # type: ignore[attr-defined]
    if found is None:
        raise Http404
    form = BESIDE[kind](request.POST, auto_id=f"{kind}{row}_%s") if kind in BESIDE else None
    try:
        _end(request, kind, found, patient.site.today())
    except ValidationError as error:
        if form is None or not set(form.fields) & set(request.POST):
            messages.error(request, " ".join(error.messages))
            return redirect("patients:background", pk)
        form.add_error(None, error.messages)
        forms = {name: form_class(prefix=name) for name, form_class in BACKGROUND_FORMS.items()}
        context = _context(get_patient_for(user, pk), forms, (kind, row, form))
        return render(request, "patients/background.html", context)
    return redirect("patients:background", pk)


BESIDE: dict[str, Any] = {"device": DetectionForm, "precaution": ReviewForm}


def _beside(kind: str, pk: int, refused: tuple[str, int, Any] | None) -> Any:
    """The form beside one row of the background."""
    if refused is not None and refused[:2] == (kind, pk):
        return refused[2]
    return BESIDE[kind](auto_id=f"{kind}{pk}_%s")


def _end(request: ViewerRequest, kind: str, row: Any, today: date) -> None:
    user = request.user
    if kind == "medicine":
        services.stop_medicine(row, today, by=user)
    elif kind == "allergy":
        services.refute_allergy(row, today, by=user)
    elif kind == "device" and "read_on" in request.POST:
        form = DetectionForm(request.POST)
        if not form.is_valid() or form.cleaned_data["read_on"] > today:
            raise ValidationError("Give a rate of 20 to 250 and the past day it was read.")
        data = form.cleaned_data
        services.read_detection_rate(row, data["bpm"], data["read_on"], by=user)
    elif kind == "device":
        services.end_device(row, today, by=user)
    else:
        _end_precaution(request, row, today)


def _end_precaution(request: ViewerRequest, row: Any, today: date) -> None:
    """Lift it, or keep it until another review: a clinician's decision either way."""
    user = request.user
    if not user.has_perm("assessments.add_assessment") and not user.is_physician:
        raise ValidationError("A clinician lifts or renews a precaution.")
    if "review_on" in request.POST:
        form = ReviewForm(request.POST)
        if not form.is_valid() or form.cleaned_data["review_on"] <= today:
            raise ValidationError("The next review lies in the future.")
        services.review_precaution(row, form.cleaned_data["review_on"], by=user)
    else:
        services.lift_precaution(row, today, by=user, reason="lifted by hand")
