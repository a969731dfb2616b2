"""A low glucose: carbohydrate given, and the recheck."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients.submissions import AlreadyTaken, claim
from programs.attendance.care import services
from programs.attendance.care.forms import CarbohydrateForm, RecheckForm
from programs.attendance.visit.access import get_visit_for
from programs.staff.request import StaffRequest


def _refusals(form: forms.Form) -> str:
    return " ".join(str(e) for errors in form.errors.values() for e in errors)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def give_carbohydrate(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    visit = get_visit_for(user, pk)
    form = CarbohydrateForm(request.POST)
    if form.is_valid():
        try:
            claim(form.key, by=user)
            services.give_carbohydrate(
                visit, form.cleaned_data["grams"], form.cleaned_data["what"], by=user
            )
        except AlreadyTaken:
            pass
    else:
        messages.error(request, _refusals(form))
    return redirect(reverse("attendance:sheet", args=[visit.pk]) + "#care")


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def recheck(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    visit = get_visit_for(user, pk)
    form = RecheckForm(request.POST)
    if form.is_valid():
        try:
            claim(form.key, by=user)
            help_given = form.cleaned_data["needed_help"]
            services.recheck(visit, form.glucose(), needed_help=help_given, by=user)
        except AlreadyTaken:
            pass
    else:
        messages.error(request, _refusals(form))
    return redirect(reverse("attendance:sheet", args=[visit.pk]) + "#care")
