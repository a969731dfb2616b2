"""Finding events on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.attendance.models import SafetyEvent
from programs.staff.models import User


def get_event_for(user: User, pk: int) -> SafetyEvent:
    found = SafetyEvent.objects.visible_to(user).select_related(
        "site", "patient__site", "visit", "reviewed_by"
    )
    return get_object_or_404(found, pk=pk)
