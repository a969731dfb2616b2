"""Before exercise begins: the entry screen and the class of risk, with their history."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render

from patients import audit
from patients.access import get_patient_for
from patients.submissions import AlreadyTaken
from programs.enrolment.policy.services import supervision_of
from programs.enrolment.risk import services
from programs.enrolment.risk.forms import RiskForm, ScreenForm, field_of
from programs.enrolment.risk.queries import (
    answers_on_record,
    event_since_screen,
    fails,
    stratify_again,
)
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
        "new_event_on": event_since_screen(patient),
        "referral": patient.referrals.order_by("-referred_on", "-pk").first(),
    }
    return render(request, "enrolment/risk.html", context)


@permission_required("enrolment.stratify", raise_exception=True)
def stratify(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    patient = get_patient_for(user, pk)
    form = RiskForm(
        request.POST or None, initial=answers_on_record(patient) | _handed_over(request)
    )
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
                has_heart_failure=fails(patient),
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
