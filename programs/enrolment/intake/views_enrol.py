"""From referral to first session: booking, and what the person takes home."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.calc.days import in_words
from programs.enrolment.calc.calendar import SESSIONS, WEEKS
from programs.enrolment.courses import services as enrolments
from programs.enrolment.intake.forms import EnrolForm
from programs.enrolment.intake.views import referral_context
from programs.enrolment.models import Enrolment
from programs.enrolment.referrals import queries
from programs.enrolment.referrals.access import get_referral_for
from programs.enrolment.seats import capacity
from programs.staff.request import StaffRequest


@require_POST
@permission_required("enrolment.add_enrolment", raise_exception=True)
def enrol(request: StaffRequest, pk: int) -> HttpResponse:
    """Book every session; of two people after the last seat one is told."""
    user = request.user
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
def phone_script(request: StaffRequest, pk: int) -> HttpResponse:
    """What to say on the phone, in plain words, with the starts that can be offered."""
    row = get_referral_for(request.user, pk)
    audit.look(row.patient, "phone script", by=request.user)
    sessions = min(SESSIONS, WEEKS * row.wanted_per_week)
    from_on = queries.first_day(row)
    seen = capacity.capacity_for(row, from_on, sessions)
    context = {
        "referral": row,
        "patient": row.patient,
        "offers": capacity.offers_for(row, from_on, sessions, seen)[:3],
        "sessions": sessions,
    }
    return render(request, "enrolment/phone_script.html", context)
