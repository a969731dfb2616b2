"""Progression: what is proposed for a class, and one person's step decided."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients import audit
from patients.submissions import AlreadyTaken, key_in
from patients.typed import whole
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.models import ClassSlot, Enrolment
from programs.prescription.models import Prescription
from programs.review.progression import services
from programs.review.progression.forms import LeaveForm, StepForm
from programs.review.progression.queries import Line, counts_of, lines_of
from programs.staff.access import current_site
from programs.staff.request import StaffRequest
from programs.staff.units import units_of

WRITES = "prescription.add_prescription"


@permission_required("prescription.view_prescription", raise_exception=True)
def progression(request: StaffRequest) -> HttpResponse:
    """A class for the team's meeting: everybody's dose, what is proposed, and why."""
    site = current_site(request)
    slots = list(ClassSlot.objects.filter(site=site, is_open=True))
    wanted, today = whole(request.GET.get("class")), site.today()
    of_today = [slot for slot in slots if slot.weekday == today.weekday()]
    named = [slot for slot in slots if slot.pk == wanted]
    chosen = next(iter([*named, *of_today, *slots]), None)
    courses = (
        Enrolment.objects.still_open()
        .visible_to(request.user)
        .filter(slots=chosen)
        .select_related("patient__site", "referral__condition")
        .order_by("patient__family_name", "patient__given_name", "pk")
    )
    lines = lines_of(list(courses), today) if chosen is not None else []
    lines.sort(key=lambda line: not line.is_open)  # what waits for a decision first
    context = {
        "site": site,
        "slots": slots,
        "chosen": chosen,
        "lines": lines,
        "n_open": sum(line.is_open for line in lines),
        "counts": counts_of(lines),
        "may_write": request.user.has_perm(WRITES),
    }
    return render(request, "review/progression.html", context)


@permission_required("prescription.view_prescription", raise_exception=True)
def step(request: StaffRequest, pk: int) -> HttpResponse:
    """One person's step: its reasons, and the forms that take, change or leave it."""
    enrolment = get_enrolment_for(request.user, pk)
    taking = leaving = None
    if request.method == "POST":
        if not request.user.has_perm(WRITES):
            raise PermissionDenied
        if "because" in request.POST:
            form: Any = LeaveForm(request.POST)
            leaving = form
        else:
            line = lines_of([enrolment], enrolment.patient.site.today())[0]
            form = taking = _step_form(request, line, request.POST)
        if form.is_valid() and _decide(request, enrolment, form):
            return redirect(back_to(enrolment))
    else:
        audit.look(enrolment.patient, "progression", by=request.user)
    line = lines_of([enrolment], enrolment.patient.site.today())[0]
    if line.is_open and request.user.has_perm(WRITES):
        taking = _shown(taking or _step_form(request, line), line)
        leaving = _shown(leaving or LeaveForm(initial=_initial(line)), line)
    else:
        taking = leaving = None
    context = {
        "enrolment": enrolment,
        "patient": enrolment.patient,
        "line": line,
        "taking": taking,
        "leaving": leaving,
        "refused": form.non_field_errors() if request.method == "POST" else [],
        "answers": list(enrolment.step_answers.select_related("by", "prescription")[:12]),
    }
    return render(request, "review/step.html", context)


@require_POST
@permission_required(WRITES, raise_exception=True)
def take(request: StaffRequest, pk: int) -> HttpResponse:
    """The step as it is proposed, by one press."""
    enrolment = get_enrolment_for(request.user, pk)
    line = lines_of([enrolment], enrolment.patient.site.today())[0]
    try:
        if line.proposal is None:
            raise ValidationError("No dose is prescribed.")
        answer = services.take(
            enrolment,
            seen=whole(request.POST.get("dose")) or 0,
            key=key_in(request.POST),
            by=request.user,
        )
        messages.success(request, _said(enrolment, answer.prescription))
    except AlreadyTaken:
        pass
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("review:step", pk)
    return redirect(back_to(enrolment))


def back_to(enrolment: Enrolment) -> str:
    """The class a person is in, else what their site shows first."""
    slot = enrolment.slots.first()
    chosen = f"&class={slot.pk}" if slot else ""
    return f"{reverse('review:progression')}?site={enrolment.patient.site_id}{chosen}"


def _decide(request: StaffRequest, enrolment: Enrolment, form: Any) -> bool:
    """Store what was decided; False with the refusal on the form."""
    d, who = form.cleaned_data, {"seen": form.cleaned_data["dose"], "by": request.user}
    try:
        if isinstance(form, LeaveForm):
            services.leave(enrolment, d["because"], key=form.key, **who)
            messages.success(request, f"{enrolment.patient}: the dose stays as it is.")
        else:
            numbers = services.Numbers(d["minutes"], d["mets"], form.strength, d.get("lifts", ()))
            answer = services.take(enrolment, numbers, key=form.key, **who)
            messages.success(request, _said(enrolment, answer.prescription))
    except AlreadyTaken:
        return True
    except ValidationError as error:
        form.add_error(None, ValidationError(error.messages))
        return False
    return True


def _said(enrolment: Enrolment, new: Prescription | None) -> str:
    """What became of the step, and whether it is in force."""
    if new is None:
        return ""
    work = "" if new.target_mets is None else f", {new.target_mets:g} METs"
    told = f"{enrolment.patient}: {new.minutes} min{work}"
    if new.is_waiting:
        return f"{told}, awaiting signature: {new.beyond}."
    return f"{told}, in force{', unsigned: ' + new.beyond if new.needs_signature else ''}."


def _step_form(request: StaffRequest, line: Line, data: Any = None) -> StepForm:
    """The numbers of the step as proposed, in the units of whoever reads."""
    proposal, dose = line.proposal, line.dose
    return StepForm(
        data,
        initial=_initial(line),
        strength=proposal.strength if proposal else "",
        lifts=proposal.lifts if proposal else (),
        before=dose.lift_rows if dose else (),
        units=units_of(request.user, line.enrolment.patient.site),
    )


def _initial(line: Line) -> dict[str, Any]:
    if line.dose is None or line.proposal is None:
        return {}
    return {
        "dose": line.dose.pk,
        "minutes": line.proposal.minutes,
        "mets": line.proposal.mets,
    }


def _shown(form: Any, line: Line) -> Any:
    """A refused form stands beside the dose of now: sent again, it is meant for that one."""
    if form.is_bound and line.dose is not None:
        form.data = form.data.copy()
        form.data["dose"] = str(line.dose.pk)
    return form
