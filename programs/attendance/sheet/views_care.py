"""A low glucose on the sheet: carbohydrate given, and the recheck."""

from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients.submissions import AlreadyTaken
from programs.attendance.care import services
from programs.attendance.care.forms import CarbohydrateForm, RecheckForm
from programs.attendance.sheet.views import opened
from programs.attendance.visit.access import get_visit_for
from programs.staff.request import StaffRequest


def _to_care(pk: int) -> HttpResponse:
    return redirect(reverse("attendance:sheet", args=[pk]) + "#care")


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def give_carbohydrate(request: StaffRequest, pk: int) -> HttpResponse:
    visit = get_visit_for(request.user, pk)
    form = CarbohydrateForm(request.POST)
    if form.is_valid():
        grams, what = form.cleaned_data["grams"], form.cleaned_data["what"]
        try:
            services.give_carbohydrate(visit, grams, what, key=form.key, by=request.user)
            return _to_care(visit.pk)
        except AlreadyTaken:
            return _to_care(visit.pk)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return opened(request, visit, give=form)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def recheck(request: StaffRequest, pk: int) -> HttpResponse:
    visit = get_visit_for(request.user, pk)
    form = RecheckForm(request.POST)
    if form.is_valid():
        needed_help = form.cleaned_data["needed_help"]
        try:
            services.recheck(
                visit, form.glucose(), needed_help=needed_help, key=form.key, by=request.user
            )
            return _to_care(visit.pk)
        except AlreadyTaken:
            return _to_care(visit.pk)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return opened(request, visit, recheck=form)
