"""Pages for paper: one session's record, a person's emergency card."""

from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import render

from patients import audit
from patients.access import get_patient_for
from programs.attendance.paper.card import card_of
from programs.attendance.paper.record import record_of
from programs.attendance.visit.access import get_visit_for
from programs.staff.request import StaffRequest


@permission_required("attendance.view_visit", raise_exception=True)
def session_record(request: StaffRequest, pk: int) -> HttpResponse:
    """One session, every value entered, for the chart."""
    visit = get_visit_for(request.user, pk)
    patient = visit.enrolment.patient
    audit.look(patient, "session record", by=request.user)
    context = {"record": record_of(visit), "visit": visit, "patient": patient}
    return render(request, "attendance/session_record.html", context)


@permission_required("patients.view_patient", raise_exception=True)
def emergency_card(request: StaffRequest, pk: int) -> HttpResponse:
    """What an ambulance crew asks for first, on half a page."""
    patient = get_patient_for(request.user, pk)
    audit.look(patient, "emergency card", by=request.user)
    context = {"card": card_of(patient, patient.site.today()), "patient": patient}
    return render(request, "attendance/emergency_card.html", context)
