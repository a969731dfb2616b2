"""Nothing that the program answers is kept by a browser or on the way; its static files are.

On a shared tablet the Back button would otherwise show the last person's pages after sign-out.
"""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse


class NoStoreMiddleware:
    """Stands outside of all that answers, inside of what serves static files."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response["Cache-Control"] = "no-store, private"
        return response
