"""The queue of plans: read, signed, sent back, several at once."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients import audit
from patients.history import StaleVersion
from patients.models import AuditEvent
from patients.submissions import AlreadyTaken, key_in
from patients.typed import whole
from programs.enrolment.courses.access import get_enrolment_for
from programs.prescription.models import TreatmentPlan
from programs.prescription.signing import may_sign, signs_anywhere
from programs.review import queue, services
from programs.review.desk import desk_of
from programs.review.forms import SendBackForm
from programs.staff.request import StaffRequest

SHOWN = 60  # plans at left
CHANGED = "The draft or its dose changed since you opened it. Read it again, then sign."


@permission_required("prescription.view_prescription", raise_exception=True)
def show(request: StaffRequest) -> HttpResponse:
    """Whose plan waits and why; the chosen one in full."""
    return _page(request, whole(request.GET.get("plan", "")) or 0, None)


def _page(request: StaffRequest, chosen: int, form: SendBackForm | None) -> HttpResponse:
    user = request.user
    waiting = queue.waiting_at(user.my_sites())
    place = next((n for n, w in enumerate(waiting) if w.unsigned.enrolment == chosen), 0)
    start = max(0, min(place - SHOWN // 2, len(waiting) - SHOWN))
    shown = waiting[start : start + SHOWN]
    lines = queue.lines_of(shown, user)
    line = lines[place - start] if lines else None
    desk = desk_of(line) if line else None
    opened = [one for one in lines if one.is_opened and may_sign(user, one.enrolment.patient.site)]
    context: dict[str, Any] = {
        "groups": _grouped(lines),
        "n": len(waiting),
        "n_left_out": len(waiting) - len(shown),
        "desk": desk,
        "line": line,
        "next": _key(lines, place - start + 1),
        "follows": _follows(lines, place - start),
        "previous": _key(lines, place - start - 1),
        "may_sign": desk is not None and may_sign(user, desk.enrolment.patient.site),
        "opened": [
            f"{one.draft.pk}:{one.draft.version}:{queue.key_of(one.dose)}"
            for one in opened
            if one.draft
        ],
    }
    if desk and desk.plan.pk:
        context["back_form"] = form or SendBackForm(version=desk.plan.version)
    if desk and request.method == "GET":
        key = queue.key_of(desk.dose)
        what = queue.told_opened(desk.plan, key) if desk.plan.pk else "treatment plan, no draft"
        audit.look(desk.enrolment.patient, what, by=user)
    return render(request, "review/queue.html", context)


def _key(lines: list[queue.Line], n: int) -> int | None:
    return lines[n].enrolment.pk if 0 <= n < len(lines) else None


def _follows(lines: list[queue.Line], here: int) -> int | None:
    """Whose plan comes after this one is decided on: never one that was sent back meanwhile."""
    others = [*lines[here + 1 :], *lines[:here]]
    open_ones = [one for one in others if one.waiting.group != queue.Group.BACK]
    return open_ones[0].enrolment.pk if open_ones else None


def _grouped(lines: list[queue.Line]) -> list[tuple[str, list[queue.Line]]]:
    found: dict[str, list[queue.Line]] = {}
    for line in lines:
        found.setdefault(line.waiting.group.value, []).append(line)
    return list(found.items())


def _plan_for(request: StaffRequest, pk: int) -> TreatmentPlan:
    """A plan of the user's sites that they may sign; a refusal is noted."""
    found = TreatmentPlan.objects.visible_to(request.user)
    plan: TreatmentPlan = get_object_or_404(found.select_related("enrolment__patient__site"), pk=pk)
    if not may_sign(request.user, plan.enrolment.patient.site):
        words = "signature of a treatment plan"
        patient = plan.enrolment.patient
        audit.record(AuditEvent.Kind.REFUSAL, words, by=request.user, patient=patient)
        raise PermissionDenied
    return plan


def _back_to_queue(key: int | None) -> HttpResponse:
    address = reverse("review:queue")
    return redirect(f"{address}?plan={key}" if key else address)


@require_POST
@permission_required("prescription.view_prescription", raise_exception=True)
def sign(request: StaffRequest, pk: int) -> HttpResponse:
    """Sign the plan that was read, with its dose; the next one follows."""
    plan = _plan_for(request, pk)
    patient = plan.enrolment.patient
    seen, dose = whole(request.POST.get("seen_version", "")), whole(request.POST.get("dose", ""))
    try:
        services.sign_plan(
            plan, seen=seen or 0, seen_dose=dose or 0, key=key_in(request.POST), by=request.user
        )
        messages.success(request, f"Signed: {patient}.")
    except AlreadyTaken:
        pass
    except StaleVersion:
        messages.error(request, f"{patient}: {CHANGED}")
        return _back_to_queue(plan.enrolment_id)
    except ValidationError as error:
        messages.error(request, f"{patient}: {' '.join(error.messages)}")
    return _back_to_queue(whole(request.POST.get("next", "")))


@require_POST
@permission_required("prescription.view_prescription", raise_exception=True)
def send_back(request: StaffRequest, pk: int) -> HttpResponse:
    """Give a draft back with the reason; the next one follows."""
    plan = _plan_for(request, pk)
    form = SendBackForm(request.POST)
    if form.is_valid():
        d = form.cleaned_data
        try:
            services.send_back(
                plan, d["because"], d["words"], seen=form.seen, key=form.key, by=request.user
            )
            messages.success(request, f"Sent back to {plan.prepared_by}: {plan.enrolment.patient}.")
            return _back_to_queue(whole(request.POST.get("next", "")))
        except AlreadyTaken:
            return _back_to_queue(whole(request.POST.get("next", "")))
        except StaleVersion:
            form.add_error(None, "The draft changed since you opened it; it is shown as it is now.")
        except ValidationError as error:
            form.add_error(None, error)
    return _page(request, plan.enrolment_id, form)


@require_POST
@permission_required("prescription.view_prescription", raise_exception=True)
def sign_opened(request: StaffRequest) -> HttpResponse:
    """Sign several plans, each of which was opened as it stands; what cannot be is told."""
    if not signs_anywhere(request.user):
        audit.record(AuditEvent.Kind.REFUSAL, "signature of treatment plans", by=request.user)
        raise PermissionDenied
    asked = [[whole(n) or 0 for n in one.split(":")] for one in request.POST.getlist("opened")]
    seen = {one[0]: one[1:] for one in asked if len(one) == 3}
    plans = [_plan_for(request, pk) for pk in seen]
    opened = queue.opened_by(request.user, [(plan, seen[plan.pk][1]) for plan in plans])
    signed = 0
    for plan in plans:
        patient, (version, dose) = plan.enrolment.patient, seen[plan.pk]
        if plan.pk not in opened:
            messages.error(request, f"{patient}: not signed. {CHANGED}")
            continue
        try:
            services.sign_plan(plan, seen=version, seen_dose=dose, by=request.user)
            signed += 1
        except StaleVersion:
            messages.error(request, f"{patient}: not signed. {CHANGED}")
        except ValidationError as error:
            messages.error(request, f"{patient}: not signed. {' '.join(error.messages)}")
    if signed:
        messages.success(request, f"Signed: {signed} plan{'s' if signed > 1 else ''}.")
    return _back_to_queue(None)


@require_POST
@permission_required("prescription.add_plan", raise_exception=True)
def write_draft(request: StaffRequest, pk: int) -> HttpResponse:
    """The next version as the program writes it from the record."""
    enrolment = get_enrolment_for(request.user, pk)
    if not enrolment.is_open:
        raise PermissionDenied
    try:
        services.write_draft(enrolment, key=key_in(request.POST), by=request.user)
        messages.success(request, "Draft written from the record. Read and complete it.")
    except AlreadyTaken:
        pass
    if request.POST.get("next") == "queue":
        return _back_to_queue(enrolment.pk)
    return redirect("review:plan", enrolment.pk)
