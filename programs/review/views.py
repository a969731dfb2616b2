"""The treatment plan every 30 days: prepared, read in full, signed on paper."""

from datetime import timedelta

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from patients import audit
from patients.history import StaleVersion
from patients.paging import page_of
from patients.submissions import AlreadyTaken
from patients.typed import whole
from programs.attendance.models import Visit
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.models import Enrolment
from programs.prescription.calc.signature import clock_on, next_signature_due
from programs.prescription.models import Prescription, TreatmentPlan
from programs.prescription.signing import may_sign
from programs.review import queries, services
from programs.review.calc.canonical import text_of
from programs.review.calc.parts import missing_parts
from programs.review.desk import blocks_of, signed_dose_of
from programs.review.document import compared, is_intact, parts_of, rows_of_plan
from programs.review.forms import PaperForm, PlanForm
from programs.review.queries import draft_of, facts_of
from programs.staff.access import current_site
from programs.staff.request import StaffRequest
from programs.staff.units import units_of

WITHOUT_PLAN_DAYS = 90  # how far back the list looks (project choice)


@permission_required("prescription.view_prescription", raise_exception=True)
def plan(request: StaffRequest, pk: int) -> HttpResponse:
    """The plan of a course: the draft and its form, every signed version."""
    user = request.user
    enrolment = get_enrolment_for(user, pk)
    may_write = user.has_perm("prescription.add_plan") and enrolment.is_open
    form = _form(request, enrolment) if may_write else None
    if request.method == "POST":
        if form is None:
            raise PermissionDenied
        if form.is_valid() and _saved(request, form):
            return redirect("review:plan", pk)
    else:
        audit.look(enrolment.patient, "treatment plan", by=user)
    versions = list(enrolment.plans.select_related("prepared_by", "signed_by", "sent_back_by"))
    signed = [version for version in versions if version.signed_on]
    draft = next((version for version in versions if version.signed_on is None), None)
    dose = enrolment.prescriptions.to_sign().first()
    days = [version.signed_on for version in signed if version.signed_on]
    due_on = next_signature_due(max(days, default=None), enrolment.starts_on)
    pauses = list(enrolment.pauses.values_list("from_on", "until_on"))
    missing = missing_parts(facts_of(enrolment, dose), parts_of(draft)) if draft else []
    lacks = dict(words.split(": ", 1) for words in missing if ": " in words)
    newest = sorted(signed, key=lambda v: (str(v.signed_on), v.pk), reverse=True)
    context = {
        "enrolment": enrolment,
        "patient": enrolment.patient,
        "form": form,
        "sections": form.sections(lacks) if form else [],
        "draft": draft,
        "missing": missing,
        "versions": [(v, before) for v, before in zip(newest, [*newest[1:], None], strict=False)],
        "dose": dose,
        "due_on": due_on,
        "clock": clock_on(due_on, enrolment.patient.site.today(), pauses),
        "may_sign": may_sign(user, enrolment.patient.site),
    }
    return render(request, "review/plan.html", context)


def _form(request: StaffRequest, enrolment: Enrolment) -> PlanForm:
    site = enrolment.patient.site
    return PlanForm(
        request.POST or None,
        plan=draft_of(enrolment),
        sex=enrolment.patient.sex,
        units=units_of(request.user, site),
    )


def _saved(request: StaffRequest, form: PlanForm) -> bool:
    """Store what was typed; False after a refusal, which the form tells."""
    try:
        row = services.prepare_plan(form.draft(), seen=form.seen, key=form.key, by=request.user)
    except AlreadyTaken:
        return True
    except StaleVersion:
        words = "Somebody else changed this draft meanwhile. Open it again; yours is below."
        form.add_error(None, words)
        return False
    except ValidationError as error:
        form.add_error(None, error.messages)
        return False
    words = "Draft saved, awaiting signature."
    messages.success(request, words, extra_tags=f"plan-{row.enrolment_id}")
    return True


def _plan_for(request: StaffRequest, pk: int) -> TreatmentPlan:
    found = TreatmentPlan.objects.visible_to(request.user).select_related(
        "enrolment__patient__site", "enrolment__referral__condition",
        "prepared_by", "signed_by", "sent_back_by",
    )  # fmt: skip
    row: TreatmentPlan = get_object_or_404(found, pk=pk)
    return row


@permission_required("prescription.view_prescription", raise_exception=True)
def version(request: StaffRequest, pk: int) -> HttpResponse:
    """One version in full, as it was signed; beside another one if asked for. It prints clean."""
    row = _plan_for(request, pk)
    enrolment = row.enrolment
    audit.look(enrolment.patient, f"treatment plan {row.pk}", by=request.user)
    others = list(enrolment.plans.exclude(pk=row.pk).select_related("signed_by"))
    wanted = whole(request.GET.get("against", ""))
    against = next((other for other in others if other.pk == wanted), None)
    rows = rows_of_plan(row, _dose_of(row))
    changes = compared(rows_of_plan(against, _dose_of(against)) if against else [], rows)
    blocks = blocks_of(changes)
    if against is not None:
        against.enrolment = enrolment
    context = {
        "enrolment": enrolment,
        "patient": enrolment.patient,
        "plan": row,
        "blocks": blocks,
        "n_changes": max((block.n for block in blocks), default=0),
        "against": against,
        "others": others,
        "is_intact": is_intact(row),
        "text": text_of(rows) if row.digest else "",
        "person": {line.key.partition(".")[2]: line.text for line in rows},
    }
    return render(request, "review/version.html", context)


def _dose_of(row: TreatmentPlan) -> Prescription | None:
    """The dose a version goes with, where it does not hold it itself."""
    if row.signed_on is None:
        found: Prescription | None = row.enrolment.prescriptions.to_sign().first()
        return found
    return None if row.digest else signed_dose_of(row.enrolment)


@permission_required("prescription.add_plan", raise_exception=True)
def on_paper(request: StaffRequest, pk: int) -> HttpResponse:
    """Note a signature given by hand on a printed draft."""
    row = _plan_for(request, pk)
    dose = row.enrolment.prescriptions.to_sign().first()
    site = row.enrolment.patient.site
    form = PaperForm(request.POST or None, site=site, version=row.version)
    if request.method == "POST" and form.is_valid():
        d = form.cleaned_data
        seen_dose = whole(request.POST.get("dose", "")) or 0
        try:
            services.sign_on_paper(
                row, d["signer"], d["on"], d["scan"],
                seen=form.seen, seen_dose=seen_dose, key=form.key, by=request.user,
            )  # fmt: skip
            messages.success(request, "Signature on paper noted.")
            return redirect("review:plan", row.enrolment_id)
        except AlreadyTaken:
            return redirect("review:plan", row.enrolment_id)
        except StaleVersion:
            form.add_error(
                None, "The draft or its dose changed since it was printed: print it anew."
            )
        except ValidationError as error:
            form.add_error(None, error)
    context = {"enrolment": row.enrolment, "patient": row.enrolment.patient, "plan": row,
               "form": form, "dose": dose}  # fmt: skip
    return render(request, "review/on_paper.html", context)


@permission_required("prescription.view_uncovered", raise_exception=True)
def without_plan(request: StaffRequest) -> HttpResponse:
    """Sessions given on days that no signed plan covered; names for who may open the record."""
    until = current_site(request).today()
    since = until - timedelta(days=WITHOUT_PLAN_DAYS)
    signed = queries.without_plan(request.user, since, until)
    visits = Visit.objects.filter(pk__in=signed)
    visits = visits.select_related("enrolment__patient__site", "enrolment__clinician")
    page = page_of(request, visits, order=["-on", "-pk"], size=60)
    rows = [queries.Uncovered(visit, signed[visit.pk]) for visit in page.rows]
    context = {"page": page, "rows": rows, "since": since, "until": until}
    return render(request, "review/without_plan.html", context)
