"""Finding referrals and enrolments on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.enrolment.models import Enrolment, Referral, ReferralList


def get_referral_for(user, pk: int) -> Referral:
    found = Referral.objects.visible_to(user).with_facts()
    return get_object_or_404(found, pk=pk)


def get_enrolment_for(user, pk: int) -> Enrolment:
    found = Enrolment.objects.visible_to(user).select_related(
        "patient__site", "referral__condition"
    )
    return get_object_or_404(found, pk=pk)


def get_referral_list_for(user, pk: int) -> ReferralList:
    found = ReferralList.objects.select_related("site").filter(site__in=user.site_ids())
    return get_object_or_404(found, pk=pk)
