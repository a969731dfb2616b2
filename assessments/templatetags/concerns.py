"""What must not wait, first on every page about a person until somebody closes it."""

from typing import Any

from django import template
from django.db.models import QuerySet

from assessments.models import Concern
from patients.prepared import Prepared

register = template.Library()


def _open(patient: int) -> QuerySet[Any, Any]:
    rows = Concern.objects.filter(assessment__enrolment__patient=patient, closed_at=None)
    return rows.select_related("owner")


_OPEN = Prepared(_open, patient=int)


@register.inclusion_tag("assessments/_open_concerns.html", takes_context=True)
def open_concerns(context: Any, patient: Any) -> dict[str, Any]:
    """Open concerns of one person, with a way to them. One query."""
    return {"concerns": _OPEN(patient=patient.pk), "perms": context.get("perms")}
