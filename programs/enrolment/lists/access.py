"""Finding hospital lists on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.enrolment.models import ReferralList
from programs.staff.models import User


def get_referral_list_for(user: User, pk: int) -> ReferralList:
    found = ReferralList.objects.select_related("site").visible_to(user)
    return get_object_or_404(found, pk=pk)
