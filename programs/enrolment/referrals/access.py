"""Finding referrals on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.enrolment.models import Referral
from programs.staff.models import User


def get_referral_for(user: User, pk: int) -> Referral:
    found = Referral.objects.visible_to(user).with_facts()
    return get_object_or_404(found, pk=pk)
