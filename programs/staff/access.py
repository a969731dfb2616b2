"""Which site a page is about, and whose accounts: always of sites the person works at."""

from django.db.models import Count, Q, QuerySet
from django.http import Http404
from django.utils.http import url_has_allowed_host_and_scheme

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


def sites_of(user: User) -> QuerySet[Site]:
    """Sites somebody may edit: their own.

    The account made on the server itself may also take up a site where nobody works, which no page
    could reach otherwise.
    """
    mine = Q(pk__in=user.site_ids())
    if user.is_superuser:
        empty = Site.objects.annotate(n=Count("staff")).filter(n=0)
        mine |= Q(pk__in=empty.values("pk"))
    return Site.objects.filter(mine)


def people_of(user: User) -> QuerySet[User]:
    """Accounts somebody may see: their own, and everybody who works at one of their sites."""
    together = User.sites.through.objects.filter(site__in=user.site_ids())  # type: ignore[attr-defined]
    return User.objects.filter(Q(pk=user.pk) | Q(pk__in=together.values("user_id")))


def governs(user: User, person: User) -> bool:
    """Whether an account may be changed: a password opens every site the person works at."""
    if person.pk == user.pk:
        return True
    if person.is_superuser and not user.is_superuser:
        return False
    return set(person.site_ids()) <= set(user.site_ids())


def next_page(request: StaffRequest, otherwise: str) -> str:
    """The page of this program that a form asks to come back to; another address is none."""
    back = request.POST.get("next", "")
    safe = url_has_allowed_host_and_scheme(back, {request.get_host()}, request.is_secure())
    return back if safe and back.startswith("/") else otherwise  # a bare word is no address
