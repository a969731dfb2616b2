"""The work on one referral: whose it is, contact, papers, eligibility, waiting list, closing."""

import contextlib
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from patients.submissions import AlreadyTaken, key_in
from programs.enrolment.calc import documents
from programs.enrolment.intake.forms import (
    AskForm,
    ContactForm,
    EligibilityForm,
    NotEnrollingForm,
    OwnerForm,
    WaitingForm,
)
from programs.enrolment.intake.views import referral_context
from programs.enrolment.models import Referral
from programs.enrolment.referrals import services as referrals
from programs.enrolment.referrals.access import get_referral_for
from programs.enrolment.risk.forms import field_of
from programs.staff.request import StaffRequest


def _back(request: StaffRequest, pk: int, write: Callable[[], Any]) -> HttpResponse:
    """Do it and return to the referral; a refusal of a mere press is said there."""
    try:
        write()
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("enrolment:referral", pk)


def _sent(
    request: StaffRequest, row: Referral, name: str, form: Any, write: Callable[[Any], Any]
) -> HttpResponse:
    """Do what a form says, or show the referral again with the form as it was typed."""
    if form.is_valid():
        try:
            write(form.cleaned_data)
            return redirect("enrolment:referral", row.pk)
        except AlreadyTaken:
            return redirect("enrolment:referral", row.pk)
        except ValidationError as error:
            row.refresh_from_db()  # the page shows what is stored, not what was refused
            form.add_error(field_of(error, form), error.messages)
    return render(request, "enrolment/referral.html", referral_context(row, **{name: form}))


@require_POST
@permission_required("enrolment.confirm_eligibility", raise_exception=True)
def confirm(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    row = get_referral_for(user, pk)
    today = row.patient.site.today()

    def write(data: Any) -> None:
        decision, reason = data["decision"], data["reason"]
        referrals.confirm_eligibility(
            row, decision, today, reason, key=key_in(request.POST), by=user
        )

    return _sent(request, row, "eligibility_form", EligibilityForm(request.POST), write)


@require_POST
@permission_required("enrolment.change_referral", raise_exception=True)
def log_contact(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    row = get_referral_for(user, pk)
    form = ContactForm(request.POST)
    form.instance.referral, form.instance.by = row, user
    if form.is_valid():
        try:
            with contextlib.suppress(AlreadyTaken):
                referrals.log_contact(form.save(commit=False), key=key_in(request.POST), by=user)
            return redirect("enrolment:referral", pk)
        except ValidationError as error:
            form.add_error(field_of(error, form), error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/referral.html", referral_context(row, contact_form=form))


@require_POST
@permission_required("enrolment.change_referral", raise_exception=True)
def assign(request: StaffRequest, pk: int) -> HttpResponse:
    """Take the next step oneself, or give it to somebody."""
    user = request.user
    row = get_referral_for(user, pk)
    if "take" in request.POST:
        return _back(request, pk, lambda: referrals.assign(row, user, by=user))
    form = OwnerForm(request.POST, site=row.patient.site)
    return _sent(
        request, row, "owner_form", form, lambda data: referrals.assign(row, data["owner"], by=user)
    )


@require_POST
@permission_required("enrolment.change_referral", raise_exception=True)
def papers(request: StaffRequest, pk: int) -> HttpResponse:
    """Ask for papers, note one as here, or take that back."""
    user = request.user
    row = get_referral_for(user, pk)
    today, post = row.patient.site.today(), request.POST
    kinds = [kind for kind in post.getlist("ask") if kind in documents.NAMES]
    here, not_here = post.get("here", ""), post.get("not_here", "")
    if here in documents.NAMES:
        return _back(request, pk, lambda: referrals.receive_document(row, here, today, by=user))
    if not_here in documents.NAMES:
        return _back(request, pk, lambda: referrals.receive_document(row, not_here, None, by=user))
    form = AskForm(post, auto_id="asked_%s")
    if not kinds:
        form.add_error(None, "Tick the records to request.")
    return _sent(
        request, row, "ask_form", form,
        lambda data: referrals.ask_for(row, kinds, data["of"], today, by=user),
    )  # fmt: skip


@require_POST
@permission_required("enrolment.change_referral", raise_exception=True)
def wait_for_seat(request: StaffRequest, pk: int) -> HttpResponse:
    """On the waiting list, off it again, or other days that suit."""
    user = request.user
    row = get_referral_for(user, pk)
    if "leave" in request.POST:
        return _back(request, pk, lambda: referrals.leave_waiting_list(row, by=user))
    do = referrals.note_what_suits if "suits" in request.POST else referrals.wait_for_seat
    return _sent(
        request, row, "waiting_form", WaitingForm(request.POST),
        lambda data: do(row, data["per_week"], data["weekdays"], by=user),
    )  # fmt: skip


@require_POST
@permission_required("enrolment.change_referral", raise_exception=True)
def close_referral(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    row = get_referral_for(user, pk)
    if "reopen" in request.POST:
        return _back(request, pk, lambda: referrals.reopen_referral(row, by=user))
    return _sent(
        request, row, "not_enrolling_form", NotEnrollingForm(request.POST),
        lambda data: referrals.close_referral(row, data["why_not"], data["note"], by=user),
    )  # fmt: skip
