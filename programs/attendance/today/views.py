"""Today: the classes of the day, and what others changed meanwhile."""

from datetime import timedelta
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.urls import reverse
from django.utils.html import format_html
from django.views.decorators.cache import never_cache

from patients.typed import whole
from programs.attendance.today.queries import Day, day_of
from programs.attendance.visit.access import get_visit_for
from programs.attendance.visit.address import chosen_day
from programs.staff.access import current_site
from programs.staff.request import StaffRequest


@permission_required("attendance.view_visit", raise_exception=True)
def today(request: StaffRequest) -> HttpResponse:
    site = current_site(request)
    on = chosen_day(request, site.today())
    day = day_of(site, on, whole(request.GET.get("class")))
    return render(request, "attendance/today.html", day_context(request, day))


@never_cache
@permission_required("attendance.view_visit", raise_exception=True)
def rows(request: StaffRequest) -> HttpResponse:
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


def day_context(request: StaffRequest, day: Day) -> dict[str, Any]:
    query = f"site={day.site.pk}&on={day.on}"
    chosen = f"&class={day.chosen.pk}" if day.chosen else ""
    return {
        "day": day,
        "here": day.site,
        "day_query": query,
        "rows_url": f"{reverse('attendance:rows')}?{query}{chosen}",
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
        "may_write": request.user.has_perm("attendance.add_visit"),
    }
