"""What every page's header needs."""

from functools import partial
from typing import Any, cast

from django.http import HttpRequest
from django.urls import reverse

from patients.calc.measuring import STORED
from patients.forms import FindForm
from programs.staff.access import current_site
from programs.staff.forms import HereForm
from programs.staff.models import User
from programs.staff.request import StaffRequest
from programs.staff.units import units_of


def workplace(request: HttpRequest) -> dict[str, Any]:
    """The person's sites, the chosen one, the units of whoever reads."""
    user: Any = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {}
    sites = user.my_sites()
    here = current_site(cast(StaffRequest, request)) if sites else None
    nav = section(request)
    units = units_of(user, here) if here else STORED
    found: dict[str, Any] = {"my_sites": sites, "here": here, "nav": nav, "units": units}
    if here and len(sites) > 1 and nav in {"today", "referrals"}:
        back = reverse("attendance:today") if nav == "today" else _without_site(request)
        found["here_form"] = partial(HereForm, sites, here, back)  # made where it is shown
    if user.has_perm("patients.view_patient") and not _has_own_box(request):
        found["find_patient"] = partial(find_patient, user)
    return found


def find_patient(user: User) -> FindForm:
    """The box of the header that finds somebody; it asks the list of people."""
    label = "Find a patient"
    keys = {"aria_keyshortcuts": "/"} if user.has_letter_keys else {}
    return FindForm("q", label, "", "header_%s", placeholder=label, **keys)


def _has_own_box(request: HttpRequest) -> bool:
    """On the list of people the same box stands in the page, with what was asked for."""
    match = request.resolver_match
    return match is not None and match.view_name == "patients:list"


def _without_site(request: HttpRequest) -> str:
    """This address without its site, which would outdo the one that is chosen next."""
    query = request.GET.copy()
    query.pop("site", None)
    return f"{request.path}?{query.urlencode()}" if query else request.path


SECTIONS = {
    "attendance": "today",
    "enrolment": "referrals",
    "patients": "patients",
    "prescription": "patients",
    "review": "patients",
    "assessments": "patients",
    "staff": "settings",
}
PAGES = {
    "reports:due": "due",
    "review:without-plan": "due",
    "review:queue": "due",
    "review:send-back": "due",
    "review:progression": "due",
    "assessments:book-many": "due",
    "reports:program": "program",
    "reports:program-people": "program",
    "reports:program-gains": "program",
    "reports:program-running": "program",
    "reports:journey": "patients",
    "reports:outcomes": "patients",
    "reports:changes": "patients",
    "reports:course-calendar": "patients",
    "reports:outlook": "program",
    "enrolment:letter": "patients",
    "enrolment:risk": "patients",
    "enrolment:stratify": "patients",
    "enrolment:screen": "patients",
    "attendance:teaching": "patients",
    "attendance:person-limits": "patients",
    "attendance:emergency-card": "patients",
    "attendance:session-record": "patients",
    "staff:readiness": "today",
}


def section(request: HttpRequest) -> str:
    """Which entry of the main navigation this page belongs to."""
    match = request.resolver_match
    if match is None:
        return ""
    return PAGES.get(match.view_name, SECTIONS.get(match.app_name, ""))
