"""Finding holds and stops on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.attendance.models import Interruption
from programs.staff.models import User


def get_interruption_for(user: User, pk: int) -> Interruption:
    found = Interruption.objects.visible_to(user).select_related("visit__enrolment__patient")
    return get_object_or_404(found, pk=pk)
