"""In which units somebody reads and types: the site's, unless switched for this sign-in."""

from typing import Any

from programs.staff.models import Site
from programs.staff.request import StaffRequest

SESSION_KEY = "units"
SWITCHES = {"glucose": "shows_mmoll", "weight": "shows_pounds"}


def units_of(request: StaffRequest, site: Site) -> dict[str, bool]:
    """Whether glucose is shown in mmol/L and weight in pounds."""
    chosen: dict[str, Any] = request.session.get(SESSION_KEY) or {}
    return {name: bool(chosen.get(name, getattr(site, name))) for name in SWITCHES.values()}


def switch(request: StaffRequest, site: Site, what: str) -> None:
    """The other unit of one quantity from now on; an unknown quantity changes nothing."""
    name = SWITCHES.get(what)
    if name:
        now = units_of(request, site)
        request.session[SESSION_KEY] = now | {name: not now[name]}
