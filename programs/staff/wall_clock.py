"""Times on pages are the site's own wall-clock times; they are stored in UTC."""

import zoneinfo
from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from programs.staff.access import current_site


class WallClockMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        user: Any = request.user
        if not user.is_authenticated or not user.my_sites():
            return self.get_response(request)
        with timezone.override(zoneinfo.ZoneInfo(current_site(request).timezone)):
            return self.get_response(request)
