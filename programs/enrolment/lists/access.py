"""Finding hospital lists on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.enrolment.models import ListLayout, ReferralList
from programs.staff.models import User


def get_referral_list_for(user: User, pk: int) -> ReferralList:
    found = ReferralList.objects.select_related("site", "layout").visible_to(user)
    return get_object_or_404(found, pk=pk)


def get_layout_for(user: User, pk: int) -> ListLayout:
    found = ListLayout.objects.select_related("site", "by").visible_to(user)
    return get_object_or_404(found, pk=pk)
