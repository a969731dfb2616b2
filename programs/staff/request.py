"""The request that views of signed-in staff take."""

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from programs.staff.models import User


class StaffRequest(HttpRequest):
    """A request of somebody signed in; the sign-in itself is asked for everywhere by default."""

    user: User
    htmx: HtmxDetails
