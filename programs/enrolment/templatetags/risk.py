"""The class of risk that stands at the head of every page about a person."""

from typing import Any

from django import template
from django.db.models import QuerySet

from patients.prepared import Prepared
from programs.enrolment.models import RiskStratification

register = template.Library()


def _latest(patient: int) -> QuerySet[Any, Any]:
    return RiskStratification.objects.filter(patient=patient)[:1]


_LATEST = Prepared(_latest, patient=int)


@register.simple_tag
def risk_of(patient: Any) -> RiskStratification | None:
    """The latest class of risk, None before there is one. One query."""
    for row in _LATEST(patient=patient.pk):
        row.patient = patient
        return row
    return None
