"""What a course lacks, on a page of a room that does not know visits."""

from typing import Any

from django import template

from programs.attendance.missed.queries import lacks_of, standing_of
from programs.attendance.missed.views_course import booked_lately
from programs.enrolment.models import Enrolment

register = template.Library()


@register.inclusion_tag("attendance/_lacking.html", takes_context=True)
def lacking(context: Any, enrolment: Enrolment) -> dict[str, Any]:
    """How many sessions are neither done nor booked, and the press that books them."""
    standing, lately = standing_of(enrolment), booked_lately(context["request"])
    return {
        "request": context["request"],
        "csrf_token": context.get("csrf_token"),
        "perms": context["perms"],
        "enrolment": enrolment,
        "standing": standing,
        "n_lacking": lacks_of(enrolment, standing),
        "lately": lately if lately and lately.enrolment == enrolment.pk else None,
        "from": "course",
    }
