"""Finding hospital lists on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.enrolment.models import ReferralList


def get_referral_list_for(user, pk: int) -> ReferralList:
    found = ReferralList.objects.select_related("site").filter(site__in=user.site_ids())
    return get_object_or_404(found, pk=pk)
