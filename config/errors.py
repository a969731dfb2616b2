"""Pages for when something is refused or breaks, and what of it goes to the log.

What breaks is logged with the places in our code that led there and an id that the page shows, and
with nothing of anybody: no posted data, no address typed, not even the error's own words, which
may quote a name.
"""

import logging
import secrets
import sys
import traceback

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

log = logging.getLogger("thirtysix.errors")
TRY_AGAIN_SECONDS = 10


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form is older than the sign-in: say what to do, lose nothing the browser still holds."""
    return render(request, "csrf_failure.html", status=403)


def server_error(request: HttpRequest) -> HttpResponse:
    """Something broke, or the database does not answer; the page itself asks nothing of it."""
    error = sys.exception()
    number = secrets.token_hex(4)
    match = request.resolver_match
    place = match.view_name if match else "no page"
    log.error("error %s, %s of %s\n%s", number, request.method, place, trace(error))
    away = isinstance(error, OperationalError | InterfaceError)
    page = render_to_string("503.html" if away else "500.html", {"number": number})
    if not away:
        return HttpResponse(page, status=500)
    if hasattr(request, "session"):
        request.session.modified = False  # storing it would wait for the database once more
    return HttpResponse(page, status=503, headers={"Retry-After": str(TRY_AGAIN_SECONDS)})


def trace(error: BaseException | None) -> str:
    """Where an error and those before it came from: kinds, files and lines, no words of theirs."""
    parts: list[str] = []
    while error is not None:
        kind = f"{type(error).__module__}.{type(error).__qualname__}"
        state = getattr(error, "sqlstate", None)
        lines = traceback.format_list(traceback.extract_tb(error.__traceback__))
        parts.append("".join(lines) + kind + (f", state {state}" if state else ""))
        error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
    return "\ncaused\n".join(reversed(parts))


class AnsweredElsewhere(logging.Filter):
    """Leaves out the framework's own line about a broken request: it quotes the error's words."""

    def filter(self, record: logging.LogRecord) -> bool:
        return getattr(record, "status_code", 0) < 500
