"""What is set right on a sheet: findings answered, holds written up or taken back, the arrival."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from patients.forms import change_data
from patients.history import StaleVersion
from patients.submissions import AlreadyTaken
from programs.attendance.findings import (
    interruptions as services_interruptions,
)
from programs.attendance.findings import (
    services as services_findings,
)
from programs.attendance.findings.access import get_interruption_for
from programs.attendance.findings.forms import AnswerForm, TakeBackForm, WriteUpForm
from programs.attendance.findings.not_taken import StillLacking
from programs.attendance.sheet import services
from programs.attendance.sheet.page import without_form
from programs.attendance.sheet.views import after_step, opened
from programs.attendance.visit import services as services_visit
from programs.attendance.visit.access import get_visit_for
from programs.attendance.visit.forms import ArrivalForm
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
@permission_required("attendance.add_visit", raise_exception=True)
def go_on(request: StaffRequest, pk: int) -> HttpResponse:
    """Start or finish without what was not taken, with a reason for each."""
    user = request.user
    visit = get_visit_for(user, pk)
    step = request.POST.get("step", "")
    form = without_form(visit, step, request.POST, by=user)
    if form is None:
        messages.error(request, "Nothing was saved: press Start or Finish on the sheet.")
        return redirect("attendance:sheet", visit.pk)
    if form.is_valid():
        decided_by = form.cleaned_data.get("decided_by", "")
        try:
            result = services.go_on_without(
                visit, step, form.reasons(), decided_by, seen=form.seen, key=form.key, by=user
            )
            return after_step(request, result, step)
        except StillLacking as left:
            form.refuse(left.lacking)
        except AlreadyTaken:
            return redirect("attendance:sheet", visit.pk)
        except StaleVersion:
            words = "Somebody else saved this visit meanwhile. Look at the sheet, then go on."
            form.add_error(None, words)
            change_data(form, seen_version=str(get_visit_for(user, pk).version))
        except ValidationError as error:
            form.add_error(None, error)
    return opened(request, get_visit_for(user, pk), without=form)


@require_POST
@permission_required("attendance.acknowledge_finding", raise_exception=True)
def write_up(request: StaffRequest, pk: int) -> HttpResponse:
    """What was seen and done, who was told, when the person may return."""
    row = get_interruption_for(request.user, pk)
    form = WriteUpForm(request.POST, row=row)
    if form.is_valid():
        try:
            services_interruptions.write_up(row, by=request.user, **form.words())  # type: ignore[arg-type]
            messages.success(request, f"{row.visit.enrolment.patient}: documented.")
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
    if form.is_valid():
        given = form.cleaned_data
        try:
            services_interruptions.take_back(
                visit, given["reason"], seen=given["seen_version"], by=request.user
            )
            messages.success(request, "Undone; the visit goes on.")
            return redirect("attendance:sheet", visit.pk)
        except StaleVersion as stale:
            _look_again(form, stale)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return opened(request, visit, take_back=form)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def correct_arrival(request: StaffRequest, pk: int) -> HttpResponse:
    """Somebody was checked in later than they came."""
    visit = get_visit_for(request.user, pk)
    form = ArrivalForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            services_visit.correct_arrival(
                visit, given["at"], seen=given["seen_version"], by=request.user
            )
            messages.success(request, "Arrival corrected.")
            return redirect("attendance:sheet", visit.pk)
        except StaleVersion as stale:
            _look_again(form, stale)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return opened(request, visit, arrival=form)


def _look_again(form: TakeBackForm | ArrivalForm, stale: StaleVersion) -> None:
    """What is stored now stands around the form; sent again, it is sent knowing that."""
    form.add_error(None, "Somebody else saved this visit meanwhile; look again, then send it.")
    stored: Any = stale.row
    change_data(form, seen_version=str(stored.version))
