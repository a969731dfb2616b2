"""Finding holds and stops on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.attendance.models import Interruption


def get_interruption_for(user, pk: int) -> Interruption:
    found = Interruption.objects.filter(
        visit__enrolment__patient__site__in=user.site_ids()
    ).select_related("visit__enrolment__patient")
    return get_object_or_404(found, pk=pk)
