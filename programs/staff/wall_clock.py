"""Times on pages are the site's own wall-clock times, written in its way; stored in UTC."""

import zoneinfo
from collections.abc import Callable
from typing import cast

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from patients.wall import written_as
from programs.staff.access import current_site
from programs.staff.models import User
from programs.staff.request import StaffRequest


class WallClockMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not isinstance(request.user, User) or not request.user.my_sites():
            return self.get_response(request)
        here = current_site(cast(StaffRequest, request))
        zone = zoneinfo.ZoneInfo(here.timezone)
        with timezone.override(zone), written_as(here.wall):
            return self.get_response(request)
