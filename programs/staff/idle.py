"""Idle sign-out: an unattended tablet must not stay open on somebody's record."""

from collections.abc import Callable

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from patients import audit
from patients.models import AuditEvent

SESSION_KEY = "last_active"
DEFAULT_MINUTES = 15
# A page that refreshes itself sends this header; it must not keep the session alive.
BACKGROUND_HEADER = "X-Background"


class IdleSignOutMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        user = request.user
        if user.is_authenticated:
            now = timezone.now().timestamp()
            last = request.session.get(SESSION_KEY)
            minutes = min((s.idle_minutes for s in user.my_sites()), default=DEFAULT_MINUTES)
            if last is not None and now - last > minutes * 60:
                audit.record(AuditEvent.Kind.SIGN_OUT, "idle", by=user)
                logout(request)
                request.session["signed_out_idle"] = minutes
            elif BACKGROUND_HEADER not in request.headers and (last is None or now - last > 10):
                request.session[SESSION_KEY] = now
        return self.get_response(request)
