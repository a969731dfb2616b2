"""Today: the classes of the day, one of them as a table, and what others changed meanwhile."""

from datetime import timedelta
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache

from patients.typed import whole
from programs.attendance.calc.stages import Stage, stage_of_class
from programs.attendance.today.columns import HEADS
from programs.attendance.today.drawing import drawn
from programs.attendance.today.lines import Refused, Said, lines_of, strip_of, waiting_of
from programs.attendance.today.queries import Beside, Day, day_now, offer_last_time
from programs.attendance.visit.access import get_visit_for
from programs.attendance.visit.address import chosen_day
from programs.enrolment.models import PlannedSession
from programs.staff.access import current_site
from programs.staff.request import StaffRequest
from programs.staff.units import units_of

ARRIVED_ALL = "arrived-all"  # in the session: class, day and people of the last "Check in all"


@permission_required("attendance.view_visit", raise_exception=True)
def today(request: StaffRequest) -> HttpResponse:
    site = current_site(request)
    on = chosen_day(request, site.today())
    day = day_now(site, on, whole(request.GET.get("class")))
    return render(request, "attendance/today.html", class_context(request, day))


@never_cache
@permission_required("attendance.view_visit", raise_exception=True)
def rows(request: StaffRequest) -> HttpResponse:
    """What others changed: the class and the counts again, and who saved the open sheet last.

    Asked for every few seconds by an open page, in the background: it keeps nobody signed in and
    is no look at a record that the page did not already show.
    """
    site = current_site(request)
    on, slot = chosen_day(request, site.today()), whole(request.GET.get("class"))
    key = whole(request.GET.get("open"))
    day = day_now(site, on, slot)
    if key:
        visit = get_visit_for(request.user, key)
        saved = visit.history.select_related("history_user").first()
        context = day_context(request, day) | {"saved": saved, "strip": strip_of(day.rows, key)}
        return render(request, "attendance/_rows.html", context)
    return render(request, "attendance/_rows.html", class_context(request, day))


def show_class(
    request: StaffRequest, planned: PlannedSession, came: Said | Refused
) -> HttpResponse:
    """The class of somebody after a press in their line: its rows, or without scripts the page."""
    day = day_now(planned.slot.site, planned.on, planned.slot_id)
    context = class_context(request, day, str(planned.pk), came)
    name = "attendance/_rows.html" if request.htmx else "attendance/today.html"
    return render(request, name, context)


def class_context(
    request: StaffRequest, day: Day, key: str = "", came: Said | Refused | None = None
) -> dict[str, Any]:
    """The day, and the chosen class in the part of the work that was asked for or that it is in.

    ``came`` is what a press in the line of ``key`` came to.
    """
    context = day_context(request, day)
    waiting = waiting_of(day.rows)
    own = _stage_now(day, waiting)
    asked = request.POST.get("stage") or request.GET.get("stage", "")
    stage = Stage(asked) if asked in set(Stage) else own
    offer_last_time(day, stage)
    units = units_of(request.user, day.site)
    lines = lines_of(
        day.rows,
        stage,
        units,
        may_write=context["may_write"],
        refused=came if isinstance(came, Refused) else None,
        said={key: came} if isinstance(came, Said) else None,
    )
    token = get_token(request)
    chosen = f"&class={day.chosen.pk}" if day.chosen else ""
    address = f"{context['day_query']}{chosen}"
    return context | {
        "stage": stage,
        "stage_now": own,
        "follows_clock": asked not in set(Stage),
        "stages": [
            (s, s.label, waiting[s], f"{context['today_url']}?{address}&stage={s}") for s in Stage
        ],
        "rows_url": f"{reverse('attendance:rows')}?{address}&stage={stage}",
        "heads": HEADS[stage](units),
        "lines": [drawn(line, units, token) for line in lines],
        "n_open": sum(bool(line.pinned) for line in lines),
        "undo_all": _n_arrived(request, day),
        "came": came,
        "came_key": key,
        "n_exercising": waiting[Stage.FINISH],
    }


def _n_arrived(request: StaffRequest, day: Day) -> int:
    """How many the last "Check in all" of this very class checked in, while it can be undone."""
    kept = request.session.get(ARRIVED_ALL)
    here = [day.chosen.pk if day.chosen else None, day.on.isoformat()]
    return len(kept[2]) if kept and kept[:2] == here else 0


def _stage_now(day: Day, waiting: dict[Stage, int]) -> Stage:
    """The part of the work by the class's own clock; on another day the first with work."""
    line = next((line for line in day.classes if line.slot == day.chosen), None)
    if line is None:
        return Stage.CHECK_IN
    now, starts = day.site.now(), line.starts_at
    since = (now.hour - starts.hour) * 60 + now.minute - starts.minute
    if day.on != now.date():
        since = -1 if day.on > now.date() else line.slot.minutes
    return stage_of_class(since, line.slot.minutes, waiting)


def day_context(request: StaffRequest, day: Day | Beside) -> dict[str, Any]:
    query = f"site={day.site.pk}&on={day.on}"
    chosen = f"&class={day.chosen.pk}" if day.chosen else ""
    return {
        "day": day,
        "here": day.site,
        "day_query": query,
        "rows_url": f"{reverse('attendance:rows')}?{query}{chosen}",
        "today_url": reverse("attendance:today"),
        "is_today": day.on == day.site.today(),
        "earlier": day.on - timedelta(days=1),
        "later": day.on + timedelta(days=1),
        "may_write": request.user.has_perm("attendance.add_visit"),
    }
