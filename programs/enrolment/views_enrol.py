"""From referral to first session: booking, and what the person takes home."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.calc.days import in_words
from patients.models import AuditEvent
from programs.enrolment import letters, queries, queries_capacity
from programs.enrolment.access import get_enrolment_for, get_referral_for
from programs.enrolment.calc.calendar import SESSIONS, WEEKS
from programs.enrolment.forms_course import EnrolForm
from programs.enrolment.models import Enrolment
from programs.enrolment.services import enrolments
from programs.enrolment.views import referral_context


@require_POST
@permission_required("enrolment.add_enrolment", raise_exception=True)
def enrol(request: HttpRequest, pk: int) -> HttpResponse:
    """Book every session; of two people after the last seat one is told."""
    user: Any = request.user
    row = get_referral_for(user, pk)
    if booked := Enrolment.objects.filter(referral=row).first():  # sent twice: show what stands
        words = f"{row.patient} was booked already, from {in_words(booked.starts_on)}: "
        words += f"{booked.days_words}. Nothing was changed; other days are on the Course page."
        messages.warning(request, words)
        return redirect("enrolment:letter", booked.pk)
    form = EnrolForm(request.POST, site=row.patient.site)
    if form.is_valid():
        data = form.cleaned_data
        try:
            course = enrolments.enrol(
                row,
                list(data["slots"]),
                data["starts_on"],
                data["sessions"],
                extension_reason=data["extension_reason"],
                by=user,
            )
            messages.success(
                request, f"{row.patient} is booked, first session {course.starts_on:%A %-d %B %Y}."
            )
            return redirect("enrolment:letter", course.pk)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return render(request, "enrolment/referral.html", referral_context(row, enrol_form=form))


@permission_required("enrolment.view_referral", raise_exception=True)
def phone_script(request: HttpRequest, pk: int) -> HttpResponse:
    """What to say on the phone, in plain words, with the starts that can be offered."""
    row = get_referral_for(request.user, pk)
    audit.look(row.patient, "phone script", by=request.user)
    sessions = min(SESSIONS, WEEKS * row.wanted_per_week)
    from_on = queries.first_day(row)
    seen = queries_capacity.capacity_for(row, from_on, sessions)
    context = {
        "referral": row,
        "patient": row.patient,
        "offers": queries_capacity.offers_for(row, from_on, sessions, seen)[:3],
        "sessions": sessions,
    }
    return render(request, "enrolment/phone_script.html", context)


@permission_required("enrolment.view_enrolment", raise_exception=True)
def letter(request: HttpRequest, pk: int) -> HttpResponse:
    """The appointment letter, to print."""
    row = get_enrolment_for(request.user, pk)
    audit.look(row.patient, "appointment letter", by=request.user)
    ahead = letters.sessions_ahead(row)
    context = {
        "enrolment": row,
        "patient": row.patient,
        "site": row.patient.site,
        "first": ahead[0] if ahead else None,
        "ahead": ahead,
        "written_on": row.patient.site.today(),
    }
    return render(request, "enrolment/letter.html", context)


@permission_required("enrolment.view_enrolment", raise_exception=True)
def sessions_file(request: HttpRequest, pk: int) -> HttpResponse:
    """The sessions ahead as a calendar file; handed to the person, sent nowhere by itself."""
    row = get_enrolment_for(request.user, pk)
    audit.record(AuditEvent.Kind.EXPORT, "calendar file", by=request.user, patient=row.patient)
    response = HttpResponse(letters.calendar_file(row), content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="sessions-{row.pk}.ics"'
    return response
