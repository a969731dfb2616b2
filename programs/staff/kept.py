"""Forms sent by script so that a lost connection loses nothing: where to go next, told in a header.

A script that follows a redirect would use up the next page's messages unseen. For a form marked
``X-Kept`` the answer "saved, go there" is therefore 204 with the address in ``X-Next``.
"""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse


class KeptFormMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if "X-Kept" not in request.headers or response.status_code not in {301, 302, 303}:
            return response
        moved = HttpResponse(status=204, headers={"X-Next": response["Location"]})
        moved.cookies = response.cookies
        return moved
