"""The answer to too many failed sign-ins: the same for accounts that exist and that do not."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
    return render(request, "registration/too_many_attempts.html", status=429)
