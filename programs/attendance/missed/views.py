"""A missed session made up in another class, and that taken back."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from patients.calc.days import short_weekday
from patients.submissions import AlreadyTaken, key_in
from patients.wall import clock
from programs.attendance.missed import queries, services
from programs.attendance.missed.forms import MakeUpForm
from programs.attendance.visit.access import get_planned_for
from programs.attendance.visit.address import class_url
from programs.enrolment.courses.make_ups import give_up_make_up, make_up_of
from programs.enrolment.models import PlannedSession
from programs.staff.request import StaffRequest


@permission_required("attendance.add_visit", raise_exception=True)
def make_up(request: StaffRequest, pk: int) -> HttpResponse:
    """The next classes with a seat, one press each; refused, the page shows what is free now."""
    missed = get_planned_for(request.user, pk)
    refused: list[str] = []
    if request.method == "POST":
        form = MakeUpForm(request.POST)
        try:
            if not form.is_valid():
                raise ValidationError("Choose a class.")
            on, slot = form.cleaned_data["sitting"]
            key = key_in(request.POST)
            booked = services.book_make_up(missed, slot, on, key=key, by=request.user)
            messages.success(request, f"Make-up of {missed.enrolment.patient}: {_when(booked)}.")
            return redirect(class_url(missed))
        except AlreadyTaken:
            return redirect(class_url(missed))
        except ValidationError as error:
            refused = error.messages
    context = {
        "offered": queries.offered_for(missed),
        "missed": missed,
        "patient": missed.enrolment.patient,
        "refused": refused,
        "back": class_url(missed),
    }
    return render(request, "attendance/make_up.html", context)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def give_up(request: StaffRequest, pk: int) -> HttpResponse:
    """A make-up taken back, of the missed session it stands for."""
    missed = get_planned_for(request.user, pk)
    booked = make_up_of(missed.enrolment, (missed.on, missed.slot_id))
    try:
        if booked is None:
            raise ValidationError("No make-up is booked.")
        give_up_make_up(booked, by=request.user)
        messages.success(request, f"Make-up on {_when(booked)} given up.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(class_url(missed))
    return redirect("attendance:make-up", pk)


def _when(planned: PlannedSession) -> str:
    today = planned.slot.site.today()
    return f"{short_weekday(planned.on, today)} {clock(planned.slot.starts_at)}"
