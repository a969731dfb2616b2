"""Referrals: list, add, one referral's work until it is enrolled or closed."""

import contextlib
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.history import StaleVersion
from patients.submissions import AlreadyTaken, key_in, new_key
from programs.enrolment import queries
from programs.enrolment.access import get_referral_for
from programs.enrolment.calc.eligibility import RULE_SET
from programs.enrolment.forms import (
    ContactForm,
    EligibilityForm,
    EnrolForm,
    NewPatientForm,
    NotEnrollingForm,
    ReferralForm,
)
from programs.enrolment.models import Referral
from programs.enrolment.services import enrolments, referrals
from programs.staff.access import current_site


@permission_required("enrolment.view_referral", raise_exception=True)
def referral_list(request: HttpRequest) -> HttpResponse:
    """Who is waiting, the longest first."""
    lines = queries.waiting_lines(request.user)
    context = {
        "lines": lines,
        "n_late": sum(line.clock.is_late for line in lines),
        "closed": list(queries.closed_lines(request.user)),
    }
    return render(request, "enrolment/referrals.html", context)


@permission_required("enrolment.change_referral", raise_exception=True)
def add_referral(request: HttpRequest) -> HttpResponse:
    user: Any = request.user
    site = current_site(request)
    data = request.POST or None
    person = NewPatientForm(data, today=site.today())
    form = ReferralForm(data, today=site.today())
    if request.method == "POST" and person.is_valid() and form.is_valid():
        try:
            referral = referrals.refer(
                person.patient(site), form.condition(), form.save(commit=False), by=user
            )
            words = f"{referral.patient} is on the list."
            messages.success(request, words, extra_tags="add-referral")
            return redirect("enrolment:referral", referral.pk)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/add_referral.html", {"person": person, "form": form})


@permission_required("enrolment.view_referral", raise_exception=True)
def referral(request: HttpRequest, pk: int) -> HttpResponse:
    """One referral: clock, eligibility, contact, enrolment."""
    row = get_referral_for(request.user, pk)
    audit.look(row.patient, "referral", by=request.user)
    return render(request, "enrolment/referral.html", _context(row))


def _context(row: Referral, **forms: Any) -> dict[str, Any]:
    today = row.patient.site.today()
    start_on = today + timedelta(days=1)
    line = queries.line_of(row)
    return {
        "referral": row,
        "patient": row.patient,
        "line": line,
        "rule_set": RULE_SET,
        "answers": list(row.answers.select_related("by")),
        "contacts": list(row.contacts.select_related("by")),
        "seats": queries.seat_lines(row.patient.site, start_on) if row.is_waiting else [],
        "eligibility_form": EligibilityForm(initial={"decision": line.eligibility.outcome}),
        "contact_form": ContactForm(),
        "contact_key": new_key(),
        "not_enrolling_form": NotEnrollingForm(),
        "enrol_form": EnrolForm(site=row.patient.site, initial={"starts_on": start_on}),
        "enrolment": getattr(row, "enrolment", None),
    } | forms


@permission_required("enrolment.change_referral", raise_exception=True)
def change_referral(request: HttpRequest, pk: int) -> HttpResponse:
    user: Any = request.user
    row = get_referral_for(user, pk)
    form = ReferralForm(request.POST or None, instance=row, today=row.patient.site.today())
    seen = request.POST.get("seen_version", "")
    if request.method == "POST" and form.is_valid():
        try:
            referrals.change_referral(
                form.save(commit=False),
                form.condition(),
                seen=int(seen) if seen.isdecimal() else 0,
                by=user,
            )
            return redirect("enrolment:referral", pk)
        except StaleVersion:
            form.add_error(None, "Somebody else changed this referral meanwhile. Open it again.")
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/change_referral.html", {"form": form, "referral": row})


@require_POST
@permission_required("enrolment.confirm_eligibility", raise_exception=True)
def confirm(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_referral_for(request.user, pk)
    form = EligibilityForm(request.POST)
    if form.is_valid():
        try:
            referrals.confirm_eligibility(
                row,
                form.cleaned_data["decision"],
                row.patient.site.today(),
                form.cleaned_data["reason"],
                by=request.user,  # type: ignore[arg-type]
            )
            return redirect("enrolment:referral", pk)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/referral.html", _context(row, eligibility_form=form))


@require_POST
@permission_required("enrolment.change_referral", raise_exception=True)
def log_contact(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_referral_for(request.user, pk)
    form = ContactForm(request.POST)
    user: Any = request.user
    form.instance.referral, form.instance.by = row, user
    if form.is_valid():
        with contextlib.suppress(AlreadyTaken):
            referrals.log_contact(form.save(commit=False), key=key_in(request.POST), by=user)
        return redirect("enrolment:referral", pk)
    return render(request, "enrolment/referral.html", _context(row, contact_form=form))


@require_POST
@permission_required("enrolment.change_referral", raise_exception=True)
def close_referral(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_referral_for(request.user, pk)
    form = NotEnrollingForm(request.POST)
    try:
        if "reopen" in request.POST:
            referrals.reopen_referral(row, by=request.user)  # type: ignore[arg-type]
        elif form.is_valid():
            referrals.close_referral(row, form.cleaned_data["why_not"], by=request.user)  # type: ignore[arg-type]
        else:
            raise ValidationError("Choose a reason.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("enrolment:referral", pk)


@require_POST
@permission_required("enrolment.add_enrolment", raise_exception=True)
def enrol(request: HttpRequest, pk: int) -> HttpResponse:
    """Book every session; of two people after the last seat one is told."""
    user: Any = request.user
    row = get_referral_for(user, pk)
    form = EnrolForm(request.POST, site=row.patient.site)
    if form.is_valid():
        data = form.cleaned_data
        try:
            enrolments.enrol(row, list(data["slots"]), data["starts_on"], data["sessions"], by=user)
            messages.success(request, f"{row.patient} is enrolled.")
            return redirect("reports:journey", row.patient_id)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/referral.html", _context(row, enrol_form=form))
