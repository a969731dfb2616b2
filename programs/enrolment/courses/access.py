"""Finding courses on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.enrolment.models import Enrolment
from programs.staff.models import User


def get_enrolment_for(user: User, pk: int) -> Enrolment:
    found = Enrolment.objects.visible_to(user).select_related(
        "patient__site", "referral__condition"
    )
    return get_object_or_404(found, pk=pk)
