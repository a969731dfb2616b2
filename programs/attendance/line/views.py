"""The presses in a line of the class table: saved, stopped, taken back."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from patients.submissions import AlreadyTaken, key_in
from programs.attendance.calc.stages import Stage
from programs.attendance.line.saving import Posted, save_line
from programs.attendance.line.services import stop_now, undo_stop
from programs.attendance.models import Visit
from programs.attendance.today.lines import Refused, Said
from programs.attendance.today.views import show_class
from programs.attendance.visit.access import get_planned_for, get_visit_for
from programs.attendance.visit.address import class_url
from programs.enrolment.models import PlannedSession
from programs.staff.request import StaffRequest


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def save(request: StaffRequest, pk: int) -> HttpResponse:
    """One line: check in, save, start, next bout, finish or hold."""
    planned = get_planned_for(request.user, pk)
    try:
        posted = Posted.of(request.POST)
    except ValidationError as error:
        return _answer(request, planned, Said("stop", " ".join(error.messages)))
    return _answer(request, planned, save_line(planned, posted, by=request.user))


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def stop(request: StaffRequest, pk: int) -> HttpResponse:
    """Stop one person's exercise; nothing typed can keep it from happening."""
    visit = get_visit_for(request.user, pk)
    try:
        stop_now(visit, key=key_in(request.POST), by=request.user)
        said = Said("stop", f"Exercise of {visit.enrolment.patient} stopped")
    except AlreadyTaken:
        said = Said("stop", f"Exercise of {visit.enrolment.patient} is stopped")
    except ValidationError as error:
        said = Said("caution", " ".join(error.messages))
    return _of_visit(request, visit, said)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def take_stop_back(request: StaffRequest, pk: int) -> HttpResponse:
    """A stop pressed by mistake, within a minute."""
    visit = get_visit_for(request.user, pk)
    try:
        undo_stop(visit, by=request.user)
        said = Said("fine", "Stop taken back: exercise goes on")
    except ValidationError as error:
        said = Said("caution", " ".join(error.messages))
    return _of_visit(request, visit, said)


def _of_visit(request: StaffRequest, visit: Visit, said: Said) -> HttpResponse:
    """The class again; somebody who is not planned in it any more has a sheet only."""
    planned = PlannedSession.objects.filter(
        enrolment=visit.enrolment_id, slot=visit.meeting.slot_id, on=visit.on
    ).select_related("slot__site", "enrolment__patient__site")
    row = planned.first()
    if row is None or request.POST.get("from") == "sheet":
        messages.add_message(request, LEVELS[said.level], said.words)
        return redirect("attendance:sheet", visit.pk)
    return _answer(request, row, said)


LEVELS = {
    "fine": messages.SUCCESS,
    "caution": messages.WARNING,
    "hold": messages.WARNING,
    "stop": messages.ERROR,
}


def _answer(request: StaffRequest, planned: PlannedSession, came: Said | Refused) -> HttpResponse:
    """The class with what the press came to in the line; without scripts the page anew."""
    if request.htmx or isinstance(came, Refused):
        return show_class(request, planned, came)
    messages.add_message(request, LEVELS[came.level], f"{planned.enrolment.patient}: {came.words}.")
    stage = request.POST.get("stage", "")
    return redirect(
        f"{class_url(planned)}&stage={stage}" if stage in set(Stage) else class_url(planned)
    )
