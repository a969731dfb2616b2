"""Results in the units of whoever reads them."""

from django import template

from assessments.models import Measurement
from patients.calc.measuring import FEET, LB, Units

SECOND = (LB, FEET)  # in the first unit of a quantity the line stands as it was scored
register = template.Library()


@register.filter
def beside(measurement: Measurement, units: Units) -> list[str]:
    """What was computed or measured beside the value; height and weight in somebody's own unit."""
    own = {"weight_kg": units.weight, "height_cm": units.height}
    chosen = {key: unit for key, unit in own.items() if unit in SECOND}
    lines = zip(measurement.derived, measurement.derived_lines, strict=True)
    return [
        f"{d['label']} {chosen[d['key']].told(d['value'])}" if d["key"] in chosen else line
        for d, line in lines
    ]
