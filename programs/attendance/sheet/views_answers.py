"""What is set right on a sheet: findings answered, holds written up or taken back, the arrival."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from patients.history import StaleVersion
from programs.attendance.findings import (
    interruptions as services_interruptions,
)
from programs.attendance.findings import (
    services as services_findings,
)
from programs.attendance.findings.access import get_interruption_for
from programs.attendance.findings.forms import AnswerForm, TakeBackForm, WriteUpForm
from programs.attendance.sheet.views import opened
from programs.attendance.visit.access import get_visit_for
from programs.staff.request import StaffRequest


@require_POST
@permission_required("attendance.acknowledge_finding", raise_exception=True)
def answer(request: StaffRequest, pk: int) -> HttpResponse:
    """Record one decision about the open findings that are ticked."""
    visit = get_visit_for(request.user, pk)
    form = AnswerForm(request.POST, visit=visit)
    if form.is_valid():
        given: dict[str, Any] = dict(form.cleaned_data)
        keys = [finding.pk for finding in given.pop("findings")]
        try:
            services_findings.answer_findings(visit, keys, by=request.user, **given)  # type: ignore[arg-type]
            return redirect("attendance:sheet", visit.pk)
        except ValidationError as error:
            form.add_error(None, error)
    return opened(request, visit, answer_form=form)


@require_POST
@permission_required("attendance.acknowledge_finding", raise_exception=True)
def write_up(request: StaffRequest, pk: int) -> HttpResponse:
    """What was seen and done, who was told, when the person may return."""
    row = get_interruption_for(request.user, pk)
    form = WriteUpForm(request.POST, row=row)
    if form.is_valid():
        try:
            services_interruptions.write_up(row, by=request.user, **form.words())  # type: ignore[arg-type]
            messages.success(request, f"{row.visit.enrolment.patient}: written up.")
            return redirect("attendance:sheet", row.visit_id)
        except ValidationError as error:
            form.add_error(None, error)
    visit = get_visit_for(request.user, row.visit_id)
    return opened(request, visit, write_up=form)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def take_back(request: StaffRequest, pk: int) -> HttpResponse:
    """Undo Finish, Hold or Stop with a reason; the visit goes on where it was."""
    visit = get_visit_for(request.user, pk)
    form = TakeBackForm(request.POST)
    try:
        if not form.is_valid():
            raise ValidationError("Taking it back needs a reason.")
        services_interruptions.take_back(
            visit,
            form.cleaned_data["reason"],
            seen=form.cleaned_data["seen_version"],
            by=request.user,
        )
        messages.success(request, "Taken back; the visit goes on.")
    except StaleVersion:
        messages.error(request, "Somebody else saved this visit meanwhile; look again.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("attendance:sheet", visit.pk)
