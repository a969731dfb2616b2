"""Referrals: who is waiting, adding one and correcting it."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render

from patients.forms import change_data
from patients.history import StaleVersion
from patients.paging import page_of, part_of
from patients.submissions import AlreadyTaken
from programs.enrolment.referrals import queries, services
from programs.enrolment.referrals.access import get_referral_for
from programs.enrolment.referrals.forms import NewPatientForm, ReferralForm
from programs.enrolment.referrals.identity import PersonQuestion
from programs.enrolment.seats import capacity
from programs.staff.access import current_site
from programs.staff.request import StaffRequest

SHOWN = 25  # waiting referrals a page


@permission_required("enrolment.view_referral", raise_exception=True)
def referral_list(request: StaffRequest) -> HttpResponse:
    """Who is waiting, the longest first; everybody's or one's own."""
    mine = "mine" in request.GET
    waits = queries.on_clock(request.user, mine=mine)
    page = part_of(request, waits, size=SHOWN)
    context = {
        "page": page,
        "lines": queries.lines_of(page.rows),
        "n_waiting": len(waits),
        "mine": mine,
        "n_late": sum(one.clock.is_late for one in waits),
    }
    return render(request, "enrolment/referrals.html", context)


@permission_required("enrolment.view_referral", raise_exception=True)
def closed_referrals(request: StaffRequest) -> HttpResponse:
    """Referrals that ended without enrolment, newest first, each with its reason."""
    page = page_of(request, queries.closed(request.user), order=["-referred_on", "-pk"])
    return render(request, "enrolment/closed_referrals.html", {"page": page})


@permission_required("enrolment.view_referral", raise_exception=True)
def waiting_list(request: StaffRequest) -> HttpResponse:
    """Who waits for a seat, in fair order, beside the seats that are free."""
    site = current_site(request)
    waits = queries.fair_order(request.user)
    page = part_of(request, waits, size=SHOWN)
    context = {
        "page": page,
        "lines": queries.lines_of(page.rows),
        "n_waiting": len(waits),
        "rows": capacity.free_seats(site, site.today()),
        "site": site,
    }
    return render(request, "enrolment/waiting_list.html", context)


@permission_required("enrolment.change_referral", raise_exception=True)
def add_referral(request: StaffRequest) -> HttpResponse:
    user = request.user
    site = current_site(request)
    data = request.POST or None
    person = NewPatientForm(data, today=site.today())
    form = ReferralForm(data, site=site, initial={"referred_on": site.today()})
    if request.method == "POST" and person.is_valid() and form.is_valid():
        row = form.save(commit=False)
        row.owner = user
        try:
            referral = services.refer(
                person.patient(site),
                form.condition(),
                row,
                form.further_conditions(),
                one_or_two=person.cleaned_data["one_or_two"],
                key=form.key,
                by=user,
            )
            words = f"{referral.patient} is on the list."
            messages.success(request, words, extra_tags="add-referral")
            return redirect("enrolment:referral", referral.pk)
        except AlreadyTaken:
            return redirect("enrolment:referrals")
        except PersonQuestion as question:
            person.ask_one_or_two()
            person.add_error("one_or_two", question.messages)  # type: ignore[arg-type]
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/add_referral.html", {"person": person, "form": form})


@permission_required("enrolment.change_referral", raise_exception=True)
def change_referral(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    row = get_referral_for(user, pk)
    form = ReferralForm(
        request.POST or None, instance=row, site=row.patient.site, version=row.version
    )
    if request.method == "POST" and form.is_valid():
        try:
            services.change_referral(
                form.save(commit=False),
                form.condition(),
                form.further_conditions(),
                seen=form.seen,
                by=user,
            )
            return redirect("enrolment:referral", pk)
        except StaleVersion as stale:
            stored: Any = stale.row
            form.add_error(None, "Somebody else changed this referral meanwhile.")
            for words in form.against(stored):
                form.add_error(None, words)
            form.add_error(None, "Correct it, or save again to keep what stands here.")
            change_data(form, seen_version=str(stored.version))
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/change_referral.html", {"form": form, "referral": row})
