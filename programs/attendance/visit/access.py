"""Finding visits and planned sessions on behalf of somebody."""

from typing import Any

from django.http import Http404
from django.shortcuts import get_object_or_404

from patients.prepared import rows_at
from patients.viewer import Viewer
from programs.attendance.models import Visit
from programs.enrolment.models import PlannedSession
from programs.staff.models import User


def get_planned_for(user: User, pk: int) -> PlannedSession:
    found = PlannedSession.objects.visible_to(user).select_related(
        "slot__site", "enrolment__patient__site", "enrolment__referral__condition"
    )
    return get_object_or_404(found, pk=pk)


def _visit(viewer: Viewer, pk: int) -> Any:
    found = Visit.objects.visible_to(viewer).select_related(
        "meeting__slot__site",
        "enrolment__patient__site",
        "enrolment__referral__condition",
        "rhythm",
    )
    return found.filter(pk=pk)


def get_visit_for(user: User, pk: int) -> Visit:
    found = rows_at(_visit, user.site_ids(), pk=pk)
    if not found:
        raise Http404("There is no such visit.")
    visit: Visit = found[0]
    return visit
