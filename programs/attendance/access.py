"""Finding visits and planned sessions on behalf of somebody."""

from django.shortcuts import get_object_or_404

from programs.attendance.models import Interruption, SafetyEvent, Visit
from programs.enrolment.models import PlannedSession


def get_planned_for(user, pk: int) -> PlannedSession:
    found = PlannedSession.objects.filter(
        enrolment__patient__site__in=user.site_ids()
    ).select_related("slot__site", "enrolment__patient__site", "enrolment__referral__condition")
    return get_object_or_404(found, pk=pk)


def get_visit_for(user, pk: int) -> Visit:
    found = Visit.objects.filter(enrolment__patient__site__in=user.site_ids()).select_related(
        "meeting__slot__site",
        "enrolment__patient__site",
        "enrolment__referral__condition",
        "rhythm",
    )
    return get_object_or_404(found, pk=pk)


def get_interruption_for(user, pk: int) -> Interruption:
    found = Interruption.objects.filter(
        visit__enrolment__patient__site__in=user.site_ids()
    ).select_related("visit__enrolment__patient")
    return get_object_or_404(found, pk=pk)


def get_event_for(user, pk: int) -> SafetyEvent:
    found = SafetyEvent.objects.filter(site__in=user.site_ids()).select_related(
        "site", "patient__site", "visit", "reviewed_by"
    )
    return get_object_or_404(found, pk=pk)
