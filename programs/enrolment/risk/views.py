"""Before exercise begins: the entry screen and the class of risk, with their history."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render

from patients import audit
from patients.access import get_patient_for
from patients.models import Patient
from patients.submissions import AlreadyTaken
from programs.enrolment.calc.risk import CRITERIA
from programs.enrolment.models import RiskStratification
from programs.enrolment.policy.services import supervision_of
from programs.enrolment.risk import services
from programs.enrolment.risk.forms import RiskForm, ScreenForm, field_of
from programs.enrolment.risk.queries import stratify_again
from programs.staff.request import StaffRequest


@permission_required("patients.view_patient", raise_exception=True)
def risk(request: StaffRequest, pk: int) -> HttpResponse:
    """Both forms in short: what was found, decided and when; what the class means here."""
    patient = get_patient_for(request.user, pk)
    audit.look(patient, "risk", by=request.user)
    context = {
        "patient": patient,
        "screens": list(patient.entry_screens.select_related("by")),
        "stratifications": list(patient.stratifications.select_related("by")),
        "supervision": supervision_of(patient.site),
        "prompt": stratify_again(patient),
        "referral": patient.referrals.order_by("-referred_on", "-pk").first(),
    }
    return render(request, "enrolment/risk.html", context)


@permission_required("enrolment.stratify", raise_exception=True)
def stratify(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    patient = get_patient_for(user, pk)
    form = RiskForm(request.POST or None, initial=_known(patient) | _handed_over(request))
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            row = services.record_risk(
                patient,
                form.answers(),
                data["decided"],
                data["reason"],
                has_test=data["has_test"],
                occasion=data["occasion"],
                key=form.key,
                by=user,
            )
            messages.success(
                request, f"{row.get_decided_display().capitalize()}.", extra_tags=f"risk-{pk}"
            )
            return redirect("enrolment:risk", pk)
        except AlreadyTaken:
            return redirect("enrolment:risk", pk)
        except ValidationError as error:
            form.add_error(field_of(error, form), error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/stratify.html", {"form": form, "patient": patient})


HANDED_OVER = {"occasion", "has_test", "capacity_mets"}


def _handed_over(request: StaffRequest) -> dict[str, Any]:
    """What the page of some results already answers; judged like anything typed."""
    return {key: value for key, value in request.GET.items() if key in HANDED_OVER}


def _known(patient: Patient) -> dict[str, Any]:
    """What the record already answers; the rest stays unanswered. The clinician checks it all."""
    latest = patient.stratifications.first()
    known: dict[str, Any] = {"occasion": "other" if latest else "entry"}
    if latest is not None:
        known |= _still_standing(latest)
    referral = patient.referrals.order_by("-referred_on", "-pk").first()
    if referral is not None:
        if referral.lvef_percent is not None and "lvef_percent" not in known:
            known["lvef_percent"] = f"{referral.lvef_percent:g}"
        if referral.nyha_class and "nyha_class" not in known:
            known["nyha_class"] = referral.nyha_class
    kinds = set(patient.conditions.values_list("kind", flat=True))
    devices = set(patient.devices.filter(removed_on=None).values_list("kind", flat=True))
    if "heart_failure" in kinds:
        known["heart_failure"] = True
    if "icd" in devices:
        known["icd"] = True
    if "pacemaker" in devices:
        known["pacemaker"] = True
    return known


def _still_standing(latest: RiskStratification) -> dict[str, Any]:
    """Earlier answers worth showing again: none after a new event or device, never a test's."""
    if latest.why_again():
        return {}
    of_test = {criterion.id for criterion in CRITERIA if criterion.is_of_test} | {"has_test"}
    return {key: value for key, value in latest.answers.items() if key not in of_test}


@permission_required("enrolment.stratify", raise_exception=True)
def screen(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    patient = get_patient_for(user, pk)
    form = ScreenForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            services.record_screen(
                patient,
                form.answers(),
                data["decision"],
                data["reason"],
                has_heart_failure=patient.conditions.filter(kind="heart_failure").exists(),
                key=form.key,
                by=user,
            )
            messages.success(request, "The screen is recorded.", extra_tags=f"screen-{pk}")
            return redirect("enrolment:risk", pk)
        except AlreadyTaken:
            return redirect("enrolment:risk", pk)
        except ValidationError as error:
            form.add_error(field_of(error, form), error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/screen.html", {"form": form, "patient": patient})
