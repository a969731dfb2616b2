"""One referral’s page: clock, eligibility, papers, contact, start."""

from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import render

from patients import audit
from patients.submissions import new_key
from programs.enrolment.calc.calendar import SESSIONS, WEEKS
from programs.enrolment.intake.forms import (
    AskForm,
    ContactForm,
    EligibilityForm,
    EnrolForm,
    NotEnrollingForm,
    OwnerForm,
    WaitingForm,
)
from programs.enrolment.models import Referral
from programs.enrolment.referrals import queries
from programs.enrolment.referrals.access import get_referral_for
from programs.enrolment.risk.queries import stratify_again
from programs.enrolment.seats import capacity
from programs.enrolment.seats.forms import show_seats
from programs.staff.request import StaffRequest


@permission_required("enrolment.view_referral", raise_exception=True)
def referral(request: StaffRequest, pk: int) -> HttpResponse:
    """One referral: clock, eligibility, papers, contact, start."""
    row = get_referral_for(request.user, pk)
    audit.look(row.patient, "referral", by=request.user)
    return render(request, "enrolment/referral.html", referral_context(row))


def referral_context(row: Referral, **forms: Any) -> dict[str, Any]:
    """What the referral's page shows; ``forms`` are bound ones that were refused."""
    line = queries.line_of(row)
    site, answers = row.patient.site, list(row.answers.select_related("by"))
    context: dict[str, Any] = {
        "referral": row,
        "patient": row.patient,
        "line": line,
        "rule_set": row.rule_set(),
        "answers": answers,
        "papers": queries.paper_lines(row),
        "contacts": list(row.contacts.select_related("by")),
        "ask_form": AskForm(auto_id="asked_%s"),
        "contact_form": ContactForm(),
        "contact_key": new_key(),
        "owner_form": OwnerForm(site=site, initial={"owner": row.owner_id}),
        "eligibility_form": EligibilityForm(initial={"decision": line.eligibility.outcome}),
        "not_enrolling_form": NotEnrollingForm(),
        "enrolment": getattr(row, "enrolment", None),
        "screen": row.patient.entry_screens.select_related("by").first(),
        "stratify_again": stratify_again(row.patient),
        "risk": row.patient.stratifications.select_related("by").first(),
    }
    if row.is_waiting:
        context |= _starts(row) | forms
        show_seats(context["enrol_form"], context["seats"])
    return context | forms


def _starts(row: Referral) -> dict[str, Any]:
    """Starts on offer, the seats behind them, and the form for any other choice."""
    from_on = queries.first_day(row)
    sessions = min(SESSIONS, WEEKS * row.wanted_per_week)
    seen = capacity.capacity_for(row, from_on, sessions)
    initial = {"starts_on": from_on, "sessions": sessions}
    wanted = {"per_week": row.wanted_per_week, "weekdays": list(row.wanted_weekdays)}
    return {
        "sessions": sessions,
        "not_yet": queries.not_yet_there(row),
        "offers": capacity.offers_for(row, from_on, sessions, seen),
        "seats": seen.rows,
        "enrol_form": EnrolForm(site=row.patient.site, initial=initial),
        "waiting_form": WaitingForm(initial=wanted),
    }
