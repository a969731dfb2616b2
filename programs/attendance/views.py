"""Today: the classes of the day, check-in, absence, and adding somebody."""

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.views.decorators.http import require_POST

from programs.attendance import services
from programs.attendance.access import get_planned_for, get_visit_for
from programs.attendance.forms_class import AbsentForm, AddToClassForm
from programs.attendance.models import ClassMeeting, Visit
from programs.attendance.queries import Day, day_of
from programs.enrolment.models import ClassSlot, PlannedSession
from programs.enrolment.services import enrolments
from programs.staff.access import current_site

FURTHEST_DAYS = 3660  # ten years either way


def chosen_day(request: HttpRequest, today: date) -> date:
    """The day in the address, or today when there is none or it makes no sense."""
    try:
        day = date.fromisoformat(request.GET.get("on", ""))
    except ValueError:
        return today
    return day if abs((day - today).days) <= FURTHEST_DAYS else today


def whole(text: str | None) -> int | None:
    return int(text) if text and text.isascii() and text.isdigit() else None


@permission_required("attendance.view_visit", raise_exception=True)
def today(request: HttpRequest) -> HttpResponse:
    site = current_site(request)
    on = chosen_day(request, site.today())
    day = day_of(site, on, whole(request.GET.get("class")))
    return render(request, "attendance/today.html", day_context(request, day))


@permission_required("attendance.view_visit", raise_exception=True)
def rows(request: HttpRequest) -> HttpResponse:
    """What others changed: the roster and the counts again, and who saved the open sheet last.

    Asked for every few seconds by an open page, in the background: it keeps nobody signed in and
    is no look at a record that the page did not already show.
    """
    site = current_site(request)
    day = day_of(site, chosen_day(request, site.today()), whole(request.GET.get("class")))
    key = whole(request.GET.get("open"))
    saved = None
    if key:
        visit = get_visit_for(request.user, key)
        saved = visit.history.select_related("history_user").first()
    context = day_context(request, day) | {"saved": saved, "opened_pk": key}
    return render(request, "attendance/_rows.html", context)


def day_context(request: HttpRequest, day: Day) -> dict[str, Any]:
    return {
        "day": day,
        "here": day.site,
        "day_query": f"site={day.site.pk}&on={day.on}",
        # Looked up once, not four times a row.
        "visits_url": reverse("attendance:sheet", args=[0]).removesuffix("0/"),
        "patients_url": reverse("patients:list"),
        "today_url": reverse("attendance:today"),
        "token": format_html(
            '<input type="hidden" name="csrfmiddlewaretoken" value="{}">', get_token(request)
        ),
        "is_today": day.on == day.site.today(),
        "earlier": day.on - timedelta(days=1),
        "later": day.on + timedelta(days=1),
        "opened_key": None,
        "may_write": request.user.has_perm("attendance.add_visit"),  # type: ignore[union-attr]
    }


def class_url(planned: PlannedSession | ClassMeeting) -> str:
    """Today's page of the class somebody is planned in, or that was held."""
    slot = planned.slot
    return f"{reverse('attendance:today')}?site={slot.site_id}&on={planned.on}&class={slot.pk}"


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def arrive(request: HttpRequest, pk: int) -> HttpResponse:
    """Check in, then straight to the readings: the next thing anybody does."""
    planned = get_planned_for(request.user, pk)
    try:
        visit = services.arrive(planned, by=request.user)  # type: ignore[arg-type]
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(class_url(planned))
    return redirect("attendance:sheet", visit.pk)


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def arrive_all(request: HttpRequest, pk: int) -> HttpResponse:
    """Everybody of a class who is still expected."""
    user: Any = request.user
    site = current_site(request)
    slot = get_object_or_404(ClassSlot, pk=pk, site=site)
    on = chosen_day(request, site.today())
    rows = day_of(site, on, slot.pk).rows
    waiting = PlannedSession.objects.filter(
        pk__in=[row.planned.pk for row in rows if row.state == Visit.State.EXPECTED]
    ).select_related("slot__site", "enrolment__patient")
    try:
        with transaction.atomic():
            for planned in waiting:
                services.arrive(planned, by=user)
        messages.success(request, f"{len(waiting)} checked in.")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect(f"{reverse('attendance:today')}?site={site.pk}&on={on}&class={pk}")


@permission_required("attendance.add_visit", raise_exception=True)
def absent(request: HttpRequest, pk: int) -> HttpResponse:
    """Why somebody is not here: one press a reason."""
    planned = get_planned_for(request.user, pk)
    if request.method != "POST":
        context = {"planned": planned, "absences": Visit.Absence.choices,
                   "back": class_url(planned)}  # fmt: skip
        return render(request, "attendance/absent.html", context)
    form = AbsentForm(request.POST)
    try:
        if not form.is_valid():
            raise ValidationError("Choose a reason for the absence.")
        services.mark_absent(planned, form.cleaned_data["absence"], by=request.user)  # type: ignore[arg-type]
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect(class_url(planned))


@require_POST
@permission_required("attendance.add_visit", raise_exception=True)
def undo(request: HttpRequest, pk: int) -> HttpResponse:
    planned = get_planned_for(request.user, pk)
    try:
        services.undo_arrival(planned, by=request.user)  # type: ignore[arg-type]
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect(class_url(planned))


@permission_required("attendance.add_visit", raise_exception=True)
def add_someone(request: HttpRequest, pk: int) -> HttpResponse:
    """A make-up or extra session in one class on one day."""
    user: Any = request.user
    site = current_site(request)
    slot = get_object_or_404(ClassSlot, pk=pk, site=site)
    on = chosen_day(request, site.today())
    form = AddToClassForm(request.POST or None, site=site)
    if request.method == "POST" and form.is_valid():
        try:
            planned = enrolments.add_to_class(form.cleaned_data["enrolment"], slot, on, by=user)
            return redirect(class_url(planned))
        except ValidationError as error:
            form.add_error(None, error)
    return render(request, "attendance/add_someone.html", {"form": form, "slot": slot, "on": on})
