"""Finding assessments and concerns on behalf of somebody."""

from django.shortcuts import get_object_or_404

from assessments.models import Assessment, Concern


def get_assessment_for(user, pk: int) -> Assessment:
    found = Assessment.objects.filter(enrolment__patient__site__in=user.site_ids()).select_related(
        "enrolment__patient__site", "enrolment__referral"
    )
    return get_object_or_404(found, pk=pk)


def get_concern_for(user, pk: int) -> Concern:
    found = Concern.objects.filter(
        assessment__enrolment__patient__site__in=user.site_ids()
    ).select_related("assessment__enrolment__patient")
    return get_object_or_404(found, pk=pk)
