"""Pages for paper: a class's plan of the day, one session's record, a person's emergency card."""

from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from patients import audit
from patients.access import get_patient_for
from programs.attendance.calc.asking import asked_of_everybody
from programs.attendance.paper.card import card_of
from programs.attendance.paper.plan import plan_of
from programs.attendance.paper.record import record_of
from programs.attendance.visit.access import get_visit_for
from programs.attendance.visit.address import chosen_day
from programs.enrolment.models import ClassSlot
from programs.staff.request import StaffRequest
from programs.staff.units import units_of


@permission_required("attendance.view_visit", raise_exception=True)
def plan_of_day(request: StaffRequest, pk: int) -> HttpResponse:
    """A class on one day, to pin up; each person on it was looked at."""
    found = ClassSlot.objects.visible_to(request.user).select_related("site")
    slot = get_object_or_404(found, pk=pk)
    plan = plan_of(slot, chosen_day(request, slot.site.today()))
    back = f"{reverse('attendance:today')}?site={slot.site_id}&on={plan.on}&class={pk}"
    audit.looks([line.patient_id for line in plan.lines], "plan of the day", by=request.user)
    everybody = asked_of_everybody()
    context = {"plan": plan, "here": slot.site, "everybody": everybody, "back": back}
    return render(request, "attendance/plan_of_day.html", context)


@permission_required("attendance.view_visit", raise_exception=True)
def session_record(request: StaffRequest, pk: int) -> HttpResponse:
    """One session, every value entered, for the chart."""
    visit = get_visit_for(request.user, pk)
    patient = visit.enrolment.patient
    audit.look(patient, "session record", by=request.user)
    context = {
        "record": record_of(visit, units_of(request.user, patient.site)),
        "visit": visit,
        "patient": patient,
    }
    return render(request, "attendance/session_record.html", context)


@permission_required("patients.view_patient", raise_exception=True)
def emergency_card(request: StaffRequest, pk: int) -> HttpResponse:
    """What an ambulance crew asks for first, on half a page."""
    patient = get_patient_for(request.user, pk)
    audit.look(patient, "emergency card", by=request.user)
    context = {"card": card_of(patient, patient.site.today()), "patient": patient}
    return render(request, "attendance/emergency_card.html", context)
