"""Finding events on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.attendance.models import SafetyEvent


def get_event_for(user, pk: int) -> SafetyEvent:
    found = SafetyEvent.objects.filter(site__in=user.site_ids()).select_related(
        "site", "patient__site", "visit", "reviewed_by"
    )
    return get_object_or_404(found, pk=pk)
