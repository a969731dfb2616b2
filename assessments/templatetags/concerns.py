"""What must not wait, first on every page about a person until somebody closes it."""

from typing import Any

from django import template

from assessments.models import Concern

register = template.Library()


@register.inclusion_tag("assessments/_open_concerns.html", takes_context=True)
def open_concerns(context: Any, patient: Any) -> dict[str, Any]:
    """Open concerns of one person, with a way to them. One query."""
    rows = Concern.objects.filter(assessment__enrolment__patient=patient, closed_at=None)
    return {"concerns": list(rows.select_related("owner")), "perms": context.get("perms")}
