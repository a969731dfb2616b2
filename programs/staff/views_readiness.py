"""Readiness: opening checks, drills, cards with their last day."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients.submissions import AlreadyTaken, key_in
from programs.staff import services
from programs.staff.access import current_site, next_page
from programs.staff.calc.readiness import DRILL_DAYS, card_state, drill_is_due
from programs.staff.forms import CardForm, CheckForm, DrillForm
from programs.staff.models import Credential, Drill, OpeningCheck, Site
from programs.staff.request import StaffRequest


def _page(request: StaffRequest, site: Site, **forms: Any) -> HttpResponse:
    today = site.today()
    drills = list(Drill.objects.filter(site=site)[:12])
    held = [drill for drill in drills if not drill.is_withdrawn]
    last = held[0].on if held else None
    cards = Credential.objects.filter(user__sites=site, user__is_active=True).select_related("user")
    checks = list(OpeningCheck.objects.filter(site=site).select_related("by")[:14])
    context = {
        "site": site,
        "today": today,
        "checks": checks,
        "checked_today": checks[0] if checks and checks[0].on == today else None,
        "drills": drills,
        "drill_due": drill_is_due(last, today),
        "drill_days": DRILL_DAYS,
        "cards": [(card, card_state(card.expires_on, today)) for card in cards],
        "check_form": CheckForm(),
        "drill_form": DrillForm(initial={"on": today}),
    }
    return render(request, "staff/readiness.html", context | forms)


@permission_required("staff.view_openingcheck", raise_exception=True)
def readiness(request: StaffRequest) -> HttpResponse:
    return _page(request, current_site(request))


@require_POST
@permission_required("staff.add_openingcheck", raise_exception=True)
def check(request: StaffRequest) -> HttpResponse:
    user = request.user
    site = current_site(request)
    form = CheckForm(request.POST)
    if form.is_valid():
        try:
            note = form.cleaned_data["note"]
            services.record_check(site, form.answers(), note, key=form.key, by=user)
            messages.success(request, "Opening check signed.")
            return redirect(next_page(request, reverse("staff:readiness")))
        except AlreadyTaken:
            return redirect(next_page(request, reverse("staff:readiness")))
        except ValidationError as error:
            form.add_error(None, error.messages)
    return _page(request, site, check_form=form)


@require_POST
@permission_required("staff.add_drill", raise_exception=True)
def drill(request: StaffRequest) -> HttpResponse:
    user = request.user
    site = current_site(request)
    form = DrillForm(request.POST)
    if form.is_valid():
        given = {n: form.cleaned_data[n] for n in ["on", "scenario", "who", "learned"]}
        try:
            services.record_drill(site, key=form.key, by=user, **given)
            messages.success(request, "Drill saved.")
            return redirect("staff:readiness")
        except AlreadyTaken:
            return redirect("staff:readiness")
        except ValidationError as error:
            form.add_error(None, error.messages)
    return _page(request, site, drill_form=form)


@require_POST
@permission_required("staff.add_drill", raise_exception=True)
def withdraw_drill(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    row = get_object_or_404(Drill.objects.visible_to(user), pk=pk)
    services.withdraw_drill(row, by=user)
    return redirect("staff:readiness")


@permission_required("staff.change_card", raise_exception=True)
def edit_card(request: StaffRequest, pk: int | None = None) -> HttpResponse:
    user = request.user
    mine = Credential.objects.visible_to(user)
    row = get_object_or_404(mine, pk=pk) if pk else Credential()
    form = CardForm(request.POST or None, instance=row, sites=user.site_ids())
    if request.method == "POST" and form.is_valid():
        try:
            services.save_card(form.save(commit=False), key=key_in(request.POST), by=user)
            messages.success(request, "Certification saved.")
            return redirect("staff:readiness")
        except AlreadyTaken:
            return redirect("staff:readiness")
        except ValidationError as error:
            form.add_error(None, error.messages)
    return render(request, "staff/edit_card.html", {"form": form, "row": row})
