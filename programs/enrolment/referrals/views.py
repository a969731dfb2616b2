"""Referrals: who is waiting, adding one and correcting it."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render

from patients.forms import change_data
from patients.history import StaleVersion
from patients.submissions import AlreadyTaken
from programs.enrolment.referrals import queries, services
from programs.enrolment.referrals.access import get_referral_for
from programs.enrolment.referrals.forms import NewPatientForm, ReferralForm
from programs.enrolment.referrals.identity import PersonQuestion
from programs.enrolment.seats import capacity
from programs.staff.access import current_site
from programs.staff.request import StaffRequest


@permission_required("enrolment.view_referral", raise_exception=True)
def referral_list(request: StaffRequest) -> HttpResponse:
    """Who is waiting, the longest first; everybody's or one's own."""
    mine = "mine" in request.GET
    lines = queries.waiting_lines(request.user, mine=mine)
    context = {
        "lines": lines,
        "mine": mine,
        "n_late": sum(line.clock.is_late for line in lines),
        "closed": [] if mine else list(queries.closed_lines(request.user)),
    }
    return render(request, "enrolment/referrals.html", context)


@permission_required("enrolment.view_referral", raise_exception=True)
def waiting_list(request: StaffRequest) -> HttpResponse:
    """Who waits for a seat, in fair order, beside the seats that are free."""
    site = current_site(request)
    context = {
        "lines": queries.waiting_list(request.user),
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
