"""Finding assessments and concerns on behalf of somebody."""

from django.shortcuts import get_object_or_404

from assessments.models import Assessment, Concern
from programs.staff.models import User


def get_assessment_for(user: User, pk: int) -> Assessment:
    found = Assessment.objects.visible_to(user).select_related(
        "enrolment__patient__site", "enrolment__referral"
    )
    return get_object_or_404(found, pk=pk)


def get_concern_for(user: User, pk: int) -> Concern:
    found = Concern.objects.visible_to(user).select_related("assessment__enrolment__patient")
    return get_object_or_404(found, pk=pk)
