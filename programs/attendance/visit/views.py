"""One person’s visit: arrived, absent, undone."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from patients.calc.days import short_weekday
from programs.attendance.models import Visit
from programs.attendance.visit import services
from programs.attendance.visit.access import get_planned_for
from programs.attendance.visit.address import class_url
from programs.attendance.visit.forms import AbsentForm
from programs.enrolment.courses.make_ups import make_up_of
from programs.staff.request import StaffRequest


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def arrive(request: StaffRequest, pk: int) -> HttpResponse:
    """Check in, then straight to the readings: the next thing anybody does."""
    planned = get_planned_for(request.user, pk)
    try:
        visit = services.arrive(planned, by=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(class_url(planned))
    return redirect("attendance:sheet", visit.pk)


@permission_required("attendance.add_visit", raise_exception=True)
def absent(request: StaffRequest, pk: int) -> HttpResponse:
    """Why somebody is not here: one press a reason."""
    planned = get_planned_for(request.user, pk)
    if request.method != "POST":
        context = {"planned": planned, "absences": Visit.Absence.choices,
                   "back": class_url(planned)}  # fmt: skip
        return render(request, "attendance/absent.html", context)
    form = AbsentForm(request.POST)
    try:
        if not form.is_valid():
            raise ValidationError("Choose a reason for the absence.")
        services.mark_absent(planned, form.cleaned_data["absence"], by=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(class_url(planned))
    return redirect("attendance:make-up", pk)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def undo(request: StaffRequest, pk: int) -> HttpResponse:
    """Back to expected; what stood for the missed session is given up with it, and said."""
    planned = get_planned_for(request.user, pk)
    back = class_url(planned)
    try:
        given_up = services.undo_arrival(planned, by=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(back)
    if given_up is not None:
        day = short_weekday(given_up.on, planned.slot.site.today())
        words = f"Absence taken back; the make-up on {day} is given up."
        messages.success(request, words)
    elif (kept := make_up_of(planned.enrolment, (planned.on, planned.slot_id))) is not None:
        day = short_weekday(kept.on, planned.slot.site.today())
        words = f"The make-up on {day} has begun and stays."
        messages.warning(request, words)
    return redirect(back)
