"""What was taught to whom, and home exercise."""

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients import audit
from patients.submissions import AlreadyTaken
from patients.typed import whole
from programs.attendance.calc.teaching import COMPONENTS, untaught
from programs.attendance.models import HomeReport, Teaching, Visit
from programs.attendance.teaching import services
from programs.attendance.teaching.forms import HomeReportForm, TeachingForm
from programs.attendance.visit.address import chosen_day
from programs.enrolment.courses.access import get_enrolment_for
from programs.enrolment.models import ClassSlot, Enrolment
from programs.staff.access import current_site
from programs.staff.request import StaffRequest

HERE = {Visit.State.ARRIVED, Visit.State.EXERCISING, Visit.State.FINISHED, Visit.State.STOPPED}


@permission_required("attendance.view_visit", raise_exception=True)
def teaching(request: StaffRequest, pk: int) -> HttpResponse:
    """One person: what was taught under each component, and what was done at home."""
    user = request.user
    enrolment = get_enrolment_for(user, pk)
    today = enrolment.patient.site.today()
    monday = today - timedelta(days=today.weekday())
    kind = request.POST.get("form", "")
    taught_form = TeachingForm(request.POST if kind == "teaching" else None, initial={"on": today})
    home_form = HomeReportForm(
        request.POST if kind == "home" else None,
        instance=_report_of(enrolment, request, monday),
    )
    if request.method == "POST":
        if not user.has_perm("attendance.add_visit"):
            raise PermissionDenied
        if _store(request, enrolment, taught_form, home_form):
            return redirect("attendance:teaching", enrolment.pk)
    else:
        audit.look(enrolment.patient, "education", by=user)
    rows = list(enrolment.teachings.all())
    kept = [row for row in rows if not row.is_withdrawn]
    context = {
        "patient": enrolment.patient,
        "enrolment": enrolment,
        "components": [(c, [r for r in kept if r.component == c.id]) for c in COMPONENTS],
        "untaught": untaught({row.component for row in kept}),
        "withdrawn": [row for row in rows if row.is_withdrawn],
        "reports": list(enrolment.home_reports.all()),
        "taught_form": taught_form,
        "home_form": home_form,
    }
    return render(request, "attendance/teaching.html", context)


def _report_of(enrolment: Enrolment, request: StaffRequest, monday: Any) -> HomeReport:
    """The report of the week asked for, to be corrected, or a new one of last week."""
    raw = request.GET.get("week", "")
    found = enrolment.home_reports.filter(pk=whole(raw) or 0).first()
    return found or HomeReport(enrolment=enrolment, week_of=monday - timedelta(days=7))


def _store(
    request: StaffRequest, enrolment: Enrolment, taught: TeachingForm, home: HomeReportForm
) -> bool:
    user = request.user
    form: Any = taught if taught.is_bound else home
    if not form.is_valid():
        return False
    try:
        if form is taught:
            services.teach([enrolment], key=taught.key, by=user, **taught.given())
        else:
            services.report_home(home.save(commit=False), by=user)
    except AlreadyTaken:
        return True
    except ValidationError as error:
        form.add_error(None, error.messages)
        return False
    messages.success(request, "Saved.")
    return True


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def withdraw_teaching(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    mine = Teaching.objects.visible_to(user)
    row = get_object_or_404(mine, pk=pk)
    services.withdraw_teaching(row, by=user)
    return redirect("attendance:teaching", row.enrolment_id)


@permission_required("attendance.add_visit", raise_exception=True)
def teach_class(request: StaffRequest, pk: int) -> HttpResponse:
    """One topic taught to everybody who is here."""
    user = request.user
    site = current_site(request)
    slot = get_object_or_404(ClassSlot, pk=pk, site=site)
    on = chosen_day(request, site.today())
    here = Enrolment.objects.filter(
        visits__meeting__slot=slot, visits__on=on, visits__state__in=HERE
    ).select_related("patient__site")
    form = TeachingForm(request.POST or None, initial={"on": on})
    back = f"{reverse('attendance:today')}?site={site.pk}&on={on}&class={pk}"
    if request.method == "POST" and form.is_valid():
        try:
            rows = services.teach(list(here), key=form.key, by=user, **form.given())
            messages.success(request, f"Education recorded for {len(rows)}.")
            return redirect(back)
        except AlreadyTaken:
            return redirect(back)
        except ValidationError as error:
            form.add_error(None, error.messages)
    context = {"form": form, "slot": slot, "on": on, "people": list(here), "back": back,
               "components": COMPONENTS}  # fmt: skip
    return render(request, "attendance/teach_class.html", context)
