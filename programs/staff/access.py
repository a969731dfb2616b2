"""Which site a page is about: always one the person works at."""

from django.http import Http404

from programs.staff.models import Site, User
from programs.staff.request import StaffRequest

SESSION_KEY = "site_id"


def current_site(request: StaffRequest) -> Site:
    """The site in the address, else the one chosen in the header, else the person's first.

    Raises Http404 for somebody without any site.
    """
    user = request.user
    sites = user.my_sites()
    if not sites:
        raise Http404("You do not work at any site yet.")
    wanted = [request.GET.get("site"), str(request.session.get(SESSION_KEY))]
    for key in wanted:
        for site in sites:
            if str(site.pk) == key:
                return site
    return sites[0]


def get_site_for(user: User, pk: int) -> Site:
    for site in user.my_sites():
        if site.pk == pk:
            return site
    raise Http404
