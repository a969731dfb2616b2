"""The session sheet of one visit: readings, exercise, recovery, and what the rules say."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients import audit
from patients.forms import change_data
from patients.history import StaleVersion
from patients.submissions import AlreadyTaken
from programs.attendance.calc.situation import Known
from programs.attendance.findings.known import known_of
from programs.attendance.models import Visit
from programs.attendance.sheet import services
from programs.attendance.sheet.forms import SheetForm
from programs.attendance.sheet.page import (
    about_of,
    checked_context,
    context_of,
    judged_sheet,
    sheet_form,
    shows_exercise,
    why_not,
)
from programs.attendance.sheet.stored import differences, initial_of
from programs.attendance.visit.access import get_visit_for
from programs.attendance.visit.address import class_url
from programs.attendance.visit.queries import with_detail
from programs.staff import units
from programs.staff.request import StaffRequest

State = Visit.State
STEPS = {"save", "start", "finish", "hold", "stop"}


@permission_required("attendance.view_visit", raise_exception=True)
def sheet(request: StaffRequest, pk: int) -> HttpResponse:
    """Show and save one person's sheet, in the class it belongs to."""
    user = request.user
    visit, last = with_detail(get_visit_for(user, pk))
    record = known_of(visit)
    form = _form(request, visit, last, record)
    context: dict[str, Any] = {}
    if request.method == "POST":
        if not user.has_perm("attendance.add_visit"):
            raise PermissionDenied
        done = _save(request, visit, form, context)
        if done is not None:
            return done
    else:
        audit.look(visit.enrolment.patient, "session sheet", by=user)
    return show(request, visit, form, last, record, context)


def show(
    request: StaffRequest,
    visit: Visit,
    form: SheetForm,
    last: Visit | None,
    record: Known,
    more: dict[str, Any],
) -> HttpResponse:
    return render(
        request, "attendance/today.html", context_of(request, visit, form, last, record) | more
    )


def opened(request: StaffRequest, visit: Visit, **more: Any) -> HttpResponse:
    """The stored sheet again, with a form beside it that was refused."""
    visit, last = with_detail(visit)
    record = known_of(visit)
    return show(request, visit, sheet_form(request, visit, last, record), last, record, more)


def _form(request: StaffRequest, visit: Visit, last: Visit | None, record: Known) -> SheetForm:
    return sheet_form(request, visit, last, record, request.POST or None)


def _save(
    request: StaffRequest, visit: Visit, form: SheetForm, context: dict[str, Any]
) -> HttpResponse | None:
    """Save and redirect, or leave what to show in ``context`` and the form."""
    user = request.user
    step = request.POST.get("step", "save")
    if form.is_valid():
        form.check_step(step)
    if step not in STEPS:
        form.add_error(None, "Nothing was saved: press one of the buttons under the sheet.")
    if not form.is_valid():
        return None
    try:
        result = services.save_sheet(
            visit,
            form.sheet(),
            step,
            seen=form.seen,
            key=form.key,
            by=user,
            is_repeat=form.cleaned_data["is_repeat"],
            because=form.cleaned_data["because"],
        )
    except AlreadyTaken:
        return redirect("attendance:sheet", visit.pk)
    except StaleVersion:
        fresh, _ = with_detail(get_visit_for(user, visit.pk))
        context["both"] = differences(form, initial_of(fresh, form.about.groups))
        change_data(form, seen_version=str(fresh.version))
        return None
    except ValidationError as error:
        form.add_error(None, error)
        return None
    return after_step(request, result, step)


def after_step(request: StaffRequest, result: services.SheetResult, step: str) -> HttpResponse:
    """Say what was saved; back to the class when this person needs nothing more now."""
    visit = result.visit
    draft = f"visit-{visit.pk}-"  # what the browser kept is stored now and may go
    here = reverse("attendance:sheet", args=[visit.pk])
    if result.barred_by:
        words = "Saved. Record a decision before going on."
        messages.warning(request, words, extra_tags=draft)
        return redirect(here)
    if result.lacking:
        names = ", ".join(one.what for one in result.lacking)
        messages.warning(request, f"Saved. Not taken yet: {names}.", extra_tags=draft)
        return redirect(f"{here}?without={step}")
    words = f"{visit.enrolment.patient}: saved, {visit.get_state_display()}."
    is_clean = not any(f.is_open for f in visit.findings.all())
    if is_clean and step == "save" and visit.state == State.ARRIVED:
        words += " No alerts from the readings taken."
        if result.missing:
            words += f" Readings missing: {'; '.join(result.missing)}."
    messages.success(request, words, extra_tags=draft)
    if step == "finish" and not visit.sessions_counted:
        messages.warning(request, why_not(visit))
    stays = step in {"hold", "stop"} or not is_clean or visit.state != State.ARRIVED
    if step in {"start", "finish"} or not stays:
        return redirect(class_url(visit.meeting))
    return redirect(here)


@require_POST
@permission_required("attendance.view_visit", raise_exception=True)
def live(request: StaffRequest, pk: int) -> HttpResponse:
    """What the rules say about values being typed. Stores nothing."""
    visit = get_visit_for(request.user, pk)
    record = known_of(visit)
    form = SheetForm(
        request.POST,
        initial=initial_of(visit, record.groups),
        with_exercise=shows_exercise(visit),
        plan=[],
        about=about_of(request, visit, record),
    )
    judged, typed = judged_sheet(visit, form, record)
    context = checked_context(form, judged, typed, record, visit.dose)
    return render(request, "attendance/_live.html", context)


@require_POST
@permission_required("attendance.view_visit", raise_exception=True)
def switch_units(request: StaffRequest, pk: int, what: str) -> HttpResponse:
    """mg/dL or mmol/L, kg or lb, from now on for this person."""
    visit = get_visit_for(request.user, pk)
    site, shows = visit.enrolment.patient.site, request.POST.get("shows", "")
    units.switch(request.user, site, what, shows)
    again = "?repeat=1" if request.POST.get("repeat") else ""
    return redirect(reverse("attendance:sheet", args=[visit.pk]) + again)
