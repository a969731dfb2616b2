"""Finding visits and planned sessions on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.attendance.models import Visit
from programs.enrolment.models import PlannedSession
from programs.staff.models import User


def get_planned_for(user: User, pk: int) -> PlannedSession:
    found = PlannedSession.objects.visible_to(user).select_related(
        "slot__site", "enrolment__patient__site", "enrolment__referral__condition"
    )
    return get_object_or_404(found, pk=pk)


def get_visit_for(user: User, pk: int) -> Visit:
    found = Visit.objects.visible_to(user).select_related(
        "meeting__slot__site",
        "enrolment__patient__site",
        "enrolment__referral__condition",
        "rhythm",
    )
    return get_object_or_404(found, pk=pk)
