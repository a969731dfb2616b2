"""Lists that came and are not done."""

from datetime import timedelta

from django.utils import timezone

from programs.enrolment.models import ListLayout, ReferralList
from programs.staff.models import User

DAYS, SHOWN = 60, 10


def lists_that_wait(user: User) -> list[ReferralList]:
    """The newest lists with rows not taken in, of the sites of somebody."""
    since = timezone.now() - timedelta(days=DAYS)
    found = ReferralList.objects.visible_to(user).filter(state="preview", at__gte=since)
    return list(found.select_related("site", "by").defer("data", "rejected")[:SHOWN])


def layouts_of(user: User) -> list[ListLayout]:
    """Every layout of the sites of somebody, those out of use too."""
    return list(ListLayout.objects.visible_to(user).select_related("site", "by"))
