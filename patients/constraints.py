"""Database constraints built from the input limits, so that each number stands in one place."""

from django.db.models import CheckConstraint, Q

from patients.calc.limits import Limit


def within(field: str, limit: Limit, *, table: str) -> CheckConstraint:
    """A named constraint: the field is empty or inside the impossible-limits."""
    unit = limit.unit.replace("%", "%%")  # Django formats the message with the constraint's name
    inside = Q(**{f"{field}__gte": limit.low, f"{field}__lte": limit.high})
    return CheckConstraint(
        name=f"{table}_{field}_possible",
        condition=Q(**{f"{field}__isnull": True}) | inside,
        violation_error_message=(f"{limit.name} must be {limit.low:g} to {limit.high:g} {unit}."),
    )
