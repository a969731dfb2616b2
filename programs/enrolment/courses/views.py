"""The letter and the calendar file of a course."""

from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import render

from patients import audit
from patients.models import AuditEvent
from programs.enrolment.courses import letters
from programs.enrolment.courses.access import get_enrolment_for
from programs.staff.request import StaffRequest


@permission_required("enrolment.view_enrolment", raise_exception=True)
def letter(request: StaffRequest, pk: int) -> HttpResponse:
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
        "has_begun": row.planned.filter(on__lt=row.patient.site.today()).exists(),
        "written_on": row.patient.site.today(),
    }
    return render(request, "enrolment/letter.html", context)


@permission_required("enrolment.view_enrolment", raise_exception=True)
def sessions_file(request: StaffRequest, pk: int) -> HttpResponse:
    """The sessions ahead as a calendar file; handed to the person, sent nowhere by itself."""
    row = get_enrolment_for(request.user, pk)
    audit.record(AuditEvent.Kind.EXPORT, "calendar file", by=request.user, patient=row.patient)
    response = HttpResponse(letters.calendar_file(row), content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="sessions-{row.pk}.ics"'
    return response
