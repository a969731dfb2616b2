"""Events: one press starts the time line, the rest is written when hands are free."""

from contextlib import suppress
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from patients import audit
from patients.forms import change_data
from patients.history import StaleVersion
from patients.paging import page_of
from patients.submissions import AlreadyTaken, key_in
from patients.typed import whole
from programs.attendance.calc.time_line import ONE_PRESS
from programs.attendance.events import services
from programs.attendance.events.access import get_event_for
from programs.attendance.events.forms import CorrectEntryForm, EntryForm, EventForm, ReviewForm
from programs.attendance.models import EventEntry, SafetyEvent
from programs.attendance.visit.access import get_visit_for
from programs.staff.access import current_site
from programs.staff.request import StaffRequest

STALE = "Somebody else saved this event meanwhile. What you typed stands below; look, then save."


@permission_required("attendance.view_safetyevent", raise_exception=True)
def events(request: StaffRequest) -> HttpResponse:
    """Events of the site, newest first, open ones marked."""
    site = current_site(request)
    rows = SafetyEvent.objects.filter(site=site).select_related("patient", "reviewed_by")
    page = page_of(request, rows, order=["-happened_at", "-pk"])
    return render(request, "attendance/events.html", {"page": page, "site": site})


@require_POST
@permission_required("attendance.add_safetyevent", raise_exception=True)
def start_event(request: StaffRequest) -> HttpResponse:
    """Open a time line now, for the visit it began at or for nobody yet."""
    user = request.user
    pk = whole(request.POST.get("visit"))
    visit = get_visit_for(user, pk) if pk else None
    site = visit.enrolment.patient.site if visit else current_site(request)
    kind = request.POST.get("kind", SafetyEvent.Kind.EMERGENCY)
    if kind not in SafetyEvent.Kind.values:
        kind = SafetyEvent.Kind.OTHER
    patient = visit.enrolment.patient if visit else None
    try:
        event = services.open_event(
            site, kind, patient=patient, visit=visit, key=key_in(request.POST), by=user
        )
        return redirect("attendance:event", event.pk)
    except AlreadyTaken as taken:  # pressed twice: both lead to the one time line
        return redirect("attendance:event", taken.made)


@permission_required("attendance.view_safetyevent", raise_exception=True)
def event(request: StaffRequest, pk: int) -> HttpResponse:
    """One event: its time line, what happened, the review."""
    user = request.user
    row = get_event_for(user, pk)
    form = EventForm(
        request.POST or None, instance=row, initial={"seen_version": row.version}, site=row.site
    )
    if request.method == "POST":
        if not user.has_perm("attendance.add_safetyevent"):
            raise PermissionDenied
        if form.is_valid() and _write(request, pk, form):
            return redirect("attendance:event", pk)
        row = get_event_for(user, pk)
    elif row.patient is not None:
        audit.look(row.patient, "event", by=user)
    return _show(request, row, form=form)


def _write(request: StaffRequest, pk: int, form: EventForm) -> bool:
    user = request.user
    given = {name: form.cleaned_data[name] for name in form.Meta.fields}
    fresh = get_event_for(user, pk)
    try:
        services.change_event(
            fresh, seen=form.cleaned_data.get("seen_version") or 0, by=user, **given
        )
    except StaleVersion:
        form.add_error(None, STALE)
        data: Any = form.data.copy()  # type: ignore[attr-defined]
        data["seen_version"] = str(get_event_for(user, pk).version)
        form.data = data
        return False
    except ValidationError as error:
        form.add_error(None, error.messages)
        return False
    messages.success(request, "Saved.")
    return True


UNDO_SECONDS = 60  # so long a press is undone by one press (project choice)


def _show(
    request: StaffRequest, row: SafetyEvent, corrected: CorrectEntryForm | None = None, **forms: Any
) -> HttpResponse:
    """The page of an event; ``corrected`` is the refused form of one of its lines."""
    entries = list(row.entries.select_related("by"))
    since = timezone.now() - timedelta(seconds=UNDO_SECONDS)
    mine = [e for e in entries if e.by_id == request.user.pk and not e.is_withdrawn]
    last = max(mine, key=lambda entry: entry.pk, default=None)
    refused = corrected.entry_pk if corrected else 0
    context = {
        "event": row,
        "form": EventForm(instance=row, initial={"seen_version": row.version}, site=row.site),
        "entry_form": EntryForm(),
        "review_form": ReviewForm(initial={"seen_version": row.version}),
        "entries": [(e, corrected if e.pk == refused else CorrectEntryForm.of(e)) for e in entries],
        "one_press": ONE_PRESS,
        "may_undo": last.pk if last and last.at > since else 0,
        "versions": list(row.history.select_related("history_user")[:20]),
    }
    return render(request, "attendance/event.html", context | forms)


@require_POST
@permission_required("attendance.add_safetyevent", raise_exception=True)
def add_entry(request: StaffRequest, pk: int) -> HttpResponse:
    """A line that was typed, or one of those that take one press."""
    user = request.user
    row = get_event_for(user, pk)
    pressed = request.POST.get("press", "")
    if pressed in ONE_PRESS:
        with suppress(AlreadyTaken):
            services.add_entry(row, pressed, key=key_in(request.POST), by=user)
        return redirect("attendance:event", pk)
    form = EntryForm(request.POST)
    if not form.is_valid():
        return _show(request, row, entry_form=form)
    try:
        services.add_entry(row, form.cleaned_data["words"], at=form.when(), key=form.key, by=user)
    except AlreadyTaken:
        pass
    except ValidationError as error:
        form.add_error(None, error.messages)
        return _show(request, row, entry_form=form)
    return redirect("attendance:event", pk)


@require_POST
@permission_required("attendance.add_safetyevent", raise_exception=True)
def correct_entry(request: StaffRequest, pk: int) -> HttpResponse:
    """What a line says, or when it was."""
    user = request.user
    entry = get_object_or_404(EventEntry.objects.visible_to(user), pk=pk)
    form = CorrectEntryForm(request.POST, auto_id=f"entry_{pk}_%s")
    if form.is_valid():
        given = form.cleaned_data
        try:
            services.correct_entry(
                entry, given["words"], given["at"], seen=given["stamp"], key=form.key, by=user
            )
            return redirect("attendance:event", entry.event_id)
        except AlreadyTaken:
            return redirect("attendance:event", entry.event_id)
        except ValidationError as error:
            form.add_error(None, error.messages)
            entry.refresh_from_db()
            change_data(form, stamp=services.stamp_of(entry))
    form.entry_pk = pk
    return _show(request, get_event_for(user, entry.event_id), corrected=form)


@require_POST
@permission_required("attendance.add_safetyevent", raise_exception=True)
def withdraw_entry(request: StaffRequest, pk: int) -> HttpResponse:
    """A line entered in error, or not in error after all."""
    user = request.user
    entry = get_object_or_404(EventEntry.objects.visible_to(user), pk=pk)
    services.withdraw_entry(entry, is_withdrawn="back" not in request.POST, by=user)
    return redirect("attendance:event", entry.event_id)


@require_POST
@permission_required("attendance.review_event", raise_exception=True)
def review_event(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    row = get_event_for(user, pk)
    form = ReviewForm(request.POST)
    if form.is_valid():
        try:
            seen = form.cleaned_data.get("seen_version") or 0
            services.review_event(row, form.cleaned_data["review"], seen=seen, by=user)
            messages.success(request, "Reviewed.")
            return redirect("attendance:event", pk)
        except StaleVersion:
            form.add_error(None, STALE)
        except ValidationError as error:
            form.add_error(None, error.messages)
    return _show(request, get_event_for(user, pk), review_form=form)
