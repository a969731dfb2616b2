"""An address with a NUL character leads nowhere: no database stores one, and nobody types one.

In forms the fields say so themselves; an address has no field that could.
"""

from collections.abc import Callable

from django.http import Http404, HttpRequest, HttpResponse


class NoNulMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\0" in request.path or "%00" in request.META.get("QUERY_STRING", ""):
            raise Http404
        return self.get_response(request)
