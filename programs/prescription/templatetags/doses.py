"""A dose in words, as pages and prints show it."""

from collections.abc import Mapping
from typing import Any

from django import template

from patients.calc.measuring import Units
from programs.prescription.calc.lifts import Lift, line_of

register = template.Library()


@register.filter
def lifted(lift: Lift, units: Units) -> str:
    """A lift in somebody's unit: Leg press 12 × 40 kg."""
    return line_of(lift, units)


@register.simple_tag
def load_words(load: Mapping[str, Any], units: Units) -> str:
    """What a machine is set to, such as "5.2 km/h 2 %"; "" when it has no setting."""
    parts = []
    if load.get("speed_kmh") is not None:
        parts.append(units.speed.told(load["speed_kmh"]))
    if load.get("grade_percent"):
        parts.append(f"{load['grade_percent']:g} %")
    if load.get("power_w") is not None:
        parts.append(f"{load['power_w']:g} W")
    if load.get("steps_per_minute") is not None:
        parts.append(f"{load['steps_per_minute']} /min, step {load['step_height_cm']:g} cm")
    return " ".join(parts)
