"""Pages for when something is refused."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form is older than the sign-in: say what to do, lose nothing the browser still holds."""
    return render(request, "csrf_failure.html", status=403)
