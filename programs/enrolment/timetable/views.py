"""The timetable: classes with their free seats for twelve weeks, closed days, one-off changes."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from programs.enrolment.models import ClassChange, ClassSlot, Closure
from programs.enrolment.seats import capacity
from programs.enrolment.timetable import services
from programs.enrolment.timetable.forms import ClassChangeForm, ClassForm, ClosureForm
from programs.staff.access import current_site
from programs.staff.models import Site
from programs.staff.request import StaffRequest


@permission_required("enrolment.view_classslot", raise_exception=True)
def classes(request: StaffRequest) -> HttpResponse:
    """Every class of the site and what it has free."""
    site = current_site(request)
    return render(request, "enrolment/classes.html", _context(site))


def _context(site: Site, **forms: Any) -> dict[str, Any]:
    today = site.today()
    return {
        "site": site,
        "capacity": capacity.capacity_of(site, today),
        "shut": list(ClassSlot.objects.filter(site=site, is_open=False)),
        "closures": list(Closure.objects.in_force().filter(site=site, on__gte=today)),
        "changes": list(
            ClassChange.objects.filter(slot__site=site, on__gte=today).select_related("slot")
        ),
        "closure_form": ClosureForm(prefix="closure"),
        "change_form": ClassChangeForm(site=site, prefix="change"),
    } | forms


@permission_required("enrolment.change_classslot", raise_exception=True)
def edit_class(request: StaffRequest, pk: int | None = None) -> HttpResponse:
    """Add a class, or change one nobody's booking speaks against."""
    user = request.user
    found = ClassSlot.objects.visible_to(user).select_related("site")
    row = get_object_or_404(found, pk=pk) if pk else ClassSlot(site=current_site(request))
    form = ClassForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        try:
            services.save_class(form.save(commit=False), by=user)
            messages.success(request, f"{row}, {row.seats} seats.")
            return redirect("enrolment:classes")
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/edit_class.html", {"form": form, "slot": row})


@permission_required("enrolment.add_closure", raise_exception=True)
def close_day(request: StaffRequest) -> HttpResponse:
    """Close the site for a day; whoever was booked gets a later session."""
    user = request.user
    site = current_site(request)
    form = ClosureForm(request.POST or None, prefix="closure")
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            _tell(request, services.close_day(site, data["on"], data["reason"], by=user))
            return redirect("enrolment:classes")
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/classes.html", _context(site, closure_form=form))


@require_POST
@permission_required("enrolment.add_closure", raise_exception=True)
def open_day(request: StaffRequest, pk: int) -> HttpResponse:
    """Take a closed day back; sessions that were moved stay where they went."""
    user = request.user
    row = get_object_or_404(Closure.objects.in_force().visible_to(user), pk=pk)
    try:
        services.open_day(row, by=user)
        messages.success(request, "The day is open again. Sessions that were moved stay moved.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("enrolment:classes")


@permission_required("enrolment.add_closure", raise_exception=True)
def change_class(request: StaffRequest) -> HttpResponse:
    """Cancel one class, or give it another time or other seats on one day."""
    user = request.user
    site = current_site(request)
    form = ClassChangeForm(request.POST or None, site=site, prefix="change")
    if request.method == "POST" and form.is_valid():
        try:
            _tell(request, services.change_class(form.save(commit=False), by=user))
            return redirect("enrolment:classes")
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/classes.html", _context(site, change_form=form))


def _tell(request: StaffRequest, moved: services.Moved) -> None:
    messages.success(request, "Saved.")
    if moved.moved:
        names = ", ".join(sorted(str(row.patient) for row in moved.moved))
        messages.warning(request, f"They have a later session instead, please tell them: {names}.")
    if moved.to_judge:
        names = ", ".join(str(row.patient) for row in moved.to_judge)
        words = f"The payer’s rule says otherwise for the new first session of {names}: "
        messages.warning(request, words + "a clinician decides again.")
    if moved.without:
        names = ", ".join(str(row.patient) for row in moved.without)
        messages.warning(request, f"No later seat was free for {names}; their course is shorter.")
