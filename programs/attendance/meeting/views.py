"""A class as a whole: opened with its staff, started, closed."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from programs.attendance.meeting import services
from programs.attendance.meeting.forms import AbsencesForm, AddToClassForm, OpenClassForm
from programs.attendance.models import ClassMeeting, Visit
from programs.attendance.today.queries import day_of
from programs.attendance.today.roster import RosterRow
from programs.attendance.today.views import ARRIVED_ALL
from programs.attendance.visit.address import chosen_day, class_url
from programs.attendance.visit.services import arrive, undo_arrival
from programs.enrolment.models import ClassSlot, PlannedSession
from programs.staff.forms import CheckForm
from programs.staff.models import OpeningCheck, Site
from programs.staff.request import StaffRequest


def _slot_and_day(request: StaffRequest, pk: int) -> tuple[Site, ClassSlot, date, str]:
    """The class, whichever of their sites somebody chose in the header, and its day."""
    found = ClassSlot.objects.visible_to(request.user).select_related("site")
    slot = get_object_or_404(found, pk=pk)
    site = slot.site
    on = chosen_day(request, site.today())
    back = f"{reverse('attendance:today')}?site={site.pk}&on={on}&class={pk}"
    return site, slot, on, back


def _as_last_time(slot: ClassSlot, on: date) -> dict[str, Any]:
    """The staff of the latest opened meeting of this class, else of any class of the day."""
    opened = ClassMeeting.objects.filter(opened_at__isnull=False, on__lte=on)
    today = opened.filter(slot__site=slot.site_id, on=on).order_by("-opened_at").first()
    last = today or opened.filter(slot=slot).order_by("-on").first()
    if last is None:
        return {}
    return {
        "staff": list(last.staff.all()),
        "supervisor": last.supervisor_id,
        "presence": last.presence,
    }


@permission_required("attendance.add_visit", raise_exception=True)
def open_class(request: StaffRequest, pk: int) -> HttpResponse:
    """Staff, supervisor, and what is missing; an exception is written, never silent."""
    user = request.user
    site, slot, on, back = _slot_and_day(request, pk)
    meeting = ClassMeeting.objects.filter(slot=slot, on=on).first()
    if meeting and meeting.is_open:
        initial: dict[str, Any] = {
            "staff": list(meeting.staff.all()),
            "supervisor": meeting.supervisor_id,
            "presence": meeting.presence,
            "exception": meeting.exception,
        }
    else:
        initial = _as_last_time(slot, on)
        if user.role == "floor" and not initial:
            initial = {"staff": [user.pk]}
    form = OpenClassForm(request.POST or None, initial=initial, site=site)
    if request.method == "POST" and form.is_valid():
        try:
            services.open_class(slot, on, by=user, **form.cleaned_data)
            messages.success(request, "The class is open.")
            return redirect(back)
        except ValidationError as error:
            form.add_error(None, error)
    n_people = services.n_expected(slot, on)
    chosen = form.cleaned_data if form.is_bound and form.is_valid() else None
    staff = list(chosen["staff"]) if chosen else list(initial.get("staff", []))
    people = [p for p in form.fields["staff"].queryset if p in staff or p.pk in staff]  # type: ignore[attr-defined]
    supervisor = chosen["supervisor"] if chosen else _supervisor(form, initial)
    ready = services.readiness_of(site, on, n_people, people, supervisor)
    context = {
        "form": form,
        "slot": slot,
        "on": on,
        "back": back,
        "unmet": ready.unmet,
        "n_people": n_people,
        "meeting": meeting,
        "checked": OpeningCheck.objects.filter(site=site, on=on).select_related("by").first(),
        "check_form": CheckForm() if on == site.today() else None,
        "here_url": request.get_full_path(),
    }
    return render(request, "attendance/open_class.html", context)


def _supervisor(form: OpenClassForm, initial: dict[str, Any]) -> Any:
    people: Any = form.fields["supervisor"]
    key = initial.get("supervisor")
    return people.queryset.filter(pk=key).first() if key else None


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def start_ready(request: StaffRequest, pk: int) -> HttpResponse:
    """Start everybody who is ready; say who is not and why."""
    user = request.user
    _, slot, on, back = _slot_and_day(request, pk)
    meeting = get_object_or_404(ClassMeeting, slot=slot, on=on)
    try:
        started, left = services.start_ready(meeting, by=user)
        messages.success(request, f"{len(started)} started.")
        for visit, why in left:
            messages.warning(request, f"{visit.enrolment.patient} not started: {why}.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect(back)


@permission_required("attendance.add_visit", raise_exception=True)
def close_class(request: StaffRequest, pk: int) -> HttpResponse:
    """Who is still expected gets a reason; then the class is over."""
    user = request.user
    site, slot, on, back = _slot_and_day(request, pk)
    rows = day_of(site, on, slot.pk).rows
    waiting = [row for row in rows if row.state == Visit.State.EXPECTED]
    refused: list[str] = []
    form = AbsencesForm(request.POST if request.method == "POST" else None, rows=waiting)
    if request.method == "POST":
        form.is_valid()  # an unknown reason is no reason; the service says whose is missing
        try:
            services.close_class(slot, on, form.reasons(), by=user)
            messages.success(request, "The class is closed.")
            return redirect(back)
        except ValidationError as error:
            refused = error.messages
    meeting = ClassMeeting.objects.filter(slot=slot, on=on).first()
    context = {
        "slot": slot,
        "on": on,
        "back": back,
        "waiting": waiting,
        "refused": refused,
        "unfinished": services.unfinished(meeting) if meeting else [],
        "unmeasured": [row for row in rows if _left_unmeasured(row)],
        "form": form,
    }
    return render(request, "attendance/close_class.html", context)


def _left_unmeasured(row: RosterRow) -> bool:
    """Exercise was stopped, and nobody took heart rate and pressure in recovery."""
    after = row.recovery
    is_taken = after is not None and after.heart_rate_bpm is not None and after.pressure != ""
    return row.state == Visit.State.STOPPED and not is_taken


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def reopen_class(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    _, slot, on, back = _slot_and_day(request, pk)
    services.reopen_class(slot, on, by=user)
    return redirect(back)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def arrive_all(request: StaffRequest, pk: int) -> HttpResponse:
    """Everybody of a class who is still expected; one press takes it back."""
    user = request.user
    site, slot, on, back = _slot_and_day(request, pk)
    rows = day_of(site, on, slot.pk).rows
    waiting = _planned([row.planned.pk for row in rows if row.state == Visit.State.EXPECTED])
    try:
        with transaction.atomic():
            for planned in waiting:
                arrive(planned, by=user)
        messages.success(request, f"{len(waiting)} checked in.")
        request.session[ARRIVED_ALL] = [slot.pk, on.isoformat(), [p.pk for p in waiting]]
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect(back)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def undo_all(request: StaffRequest, pk: int) -> HttpResponse:
    """Back to expected, whom the last "Check in all" checked in; not who was measured since."""
    _, slot, on, back = _slot_and_day(request, pk)
    kept = request.session.pop(ARRIVED_ALL, None)
    if kept is None or kept[:2] != [slot.pk, on.isoformat()]:
        messages.warning(request, "Nothing to take back in this class.")
        return redirect(back)
    n = 0
    for planned in _planned(kept[2]):
        try:
            undo_arrival(planned, by=request.user)
            n += 1
        except ValidationError:
            words = f"{planned.enrolment.patient} stays checked in: something is recorded."
            messages.warning(request, words)
    messages.success(request, f"Check in of {n} taken back.")
    return redirect(back)


def _planned(keys: list[int]) -> list[PlannedSession]:
    found = PlannedSession.objects.filter(pk__in=keys)
    return list(found.select_related("slot__site", "enrolment__patient"))


@permission_required("attendance.add_visit", raise_exception=True)
def add_someone(request: StaffRequest, pk: int) -> HttpResponse:
    """A make-up or extra session in one class on one day."""
    user = request.user
    site, slot, on, back = _slot_and_day(request, pk)
    form = AddToClassForm(request.POST or None, site=site)
    if request.method == "POST" and form.is_valid():
        try:
            given = form.cleaned_data
            planned = services.add_somebody(
                given["enrolment"], slot, on, approval=given["approval"], by=user
            )
            return redirect(class_url(planned))
        except ValidationError as error:
            form.add_error(None, error)
    context = {"form": form, "slot": slot, "on": on, "back": back}
    return render(request, "attendance/add_someone.html", context)
