"""The treatment plan every 30 days: prepare, print, sign."""

from datetime import timedelta

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.history import StaleVersion
from patients.paging import page_of
from patients.typed import whole
from programs.attendance.models import Visit
from programs.enrolment.courses.access import get_enrolment_for
from programs.prescription import services
from programs.prescription.calc.signature import is_late, next_signature_due
from programs.prescription.models import TreatmentPlan
from programs.review import queries
from programs.review.calc.components import missing_parts
from programs.review.forms import TreatmentPlanForm
from programs.review.queries import draft_of, parts_of
from programs.staff.access import current_site
from programs.staff.request import StaffRequest

WITHOUT_PLAN_DAYS = 90  # how far back the list looks (project choice)


@permission_required("prescription.view_prescription", raise_exception=True)
def plan(request: StaffRequest, pk: int) -> HttpResponse:
    """The plan of a course: versions, draft, signature."""
    user = request.user
    enrolment = get_enrolment_for(user, pk)
    may_write = user.has_perm("prescription.add_plan") and enrolment.is_open
    form = TreatmentPlanForm(request.POST or None, instance=draft_of(enrolment))
    if request.method == "POST":
        if not may_write:
            raise PermissionDenied
        if form.is_valid():
            try:
                seen = request.POST.get("seen_version", "")
                services.prepare_plan(form.save(commit=False), seen=whole(seen) or 0, by=user)
                words = "Draft saved, awaiting signature."
                messages.success(request, words, extra_tags=f"plan-{pk}")
                return redirect("review:plan", pk)
            except StaleVersion:
                words = "Somebody else changed this draft meanwhile. Open it again; yours is below."
                form.add_error(None, words)
            except ValidationError as error:
                form.add_error(None, error)
    else:
        audit.look(enrolment.patient, "treatment plan", by=user)
    versions = list(enrolment.plans.select_related("prepared_by", "signed_by"))
    signed = [v.signed_on for v in versions if v.signed_on]
    due_on = next_signature_due(max(signed, default=None), enrolment.starts_on)
    draft = next((v for v in versions if v.signed_on is None), None)
    dose = enrolment.prescriptions.in_force().first()
    context = {
        "enrolment": enrolment,
        "patient": enrolment.patient,
        "form": form if may_write else None,
        "draft": draft,
        "missing": missing_parts(parts_of(draft, dose)) if draft else [],
        "versions": [v for v in versions if v.signed_on],
        "dose": dose,
        "due_on": due_on,
        "is_late": is_late(due_on, enrolment.patient.site.today()),
    }
    return render(request, "review/plan.html", context)


@require_POST
@permission_required("prescription.sign_plan", raise_exception=True)
def sign_plan(request: StaffRequest, pk: int) -> HttpResponse:
    found = TreatmentPlan.objects.visible_to(request.user)
    row = get_object_or_404(found, pk=pk)
    try:
        seen = request.POST.get("seen_version", "")
        services.sign_plan(row, seen=whole(seen) or 0, by=request.user)
        messages.success(request, "Plan signed.")
    except StaleVersion:
        messages.error(request, "The draft changed since you opened it. Read it again, then sign.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("review:plan", row.enrolment_id)


@permission_required("prescription.view_prescription", raise_exception=True)
def without_plan(request: StaffRequest) -> HttpResponse:
    """Sessions given on days that no signed plan covered."""
    until = current_site(request).today()
    since = until - timedelta(days=WITHOUT_PLAN_DAYS)
    signed = queries.without_plan(request.user, since, until)
    visits = Visit.objects.filter(pk__in=signed).select_related("enrolment__patient")
    page = page_of(request, visits, order=["-on", "-pk"], size=60)
    rows = [queries.Uncovered(visit, signed[visit.pk]) for visit in page.rows]
    context = {"page": page, "rows": rows, "since": since, "until": until}
    return render(request, "review/without_plan.html", context)
