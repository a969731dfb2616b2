"""What stands in a page of outcomes and is drawn in Python."""

from django import template
from django.utils.safestring import SafeString

from reports import drawing
from reports.calc.scale import Axis
from reports.calc.summary import OutcomeLine
from reports.outcomes import Outcomes

register = template.Library()


# Numbers and fixed words; whatever is written by people is escaped where it is put in.
@register.simple_tag
def scale_head(axis: Axis) -> SafeString:
    """The numbers of the scale."""
    return SafeString(drawing.scale_svg(axis, drawing.ON_PAGE))


@register.simple_tag
def change_of(line: OutcomeLine, axis: Axis) -> SafeString:
    """One measure on the scale."""
    return SafeString(drawing.change_svg(line, axis, drawing.ON_PAGE))


@register.simple_tag
def grid_of(axis: Axis) -> SafeString:
    """The upright lines of the scale, between two groups."""
    return SafeString(f'<svg aria-hidden="true">{drawing.grid(axis, drawing.ON_PAGE)}</svg>')


@register.simple_tag
def values_of(line: OutcomeLine) -> SafeString:
    """Every value of a measure, by day."""
    return SafeString(drawing.values_svg(line, drawing.ON_PAGE))


@register.simple_tag
def sessions_of(found: Outcomes) -> SafeString:
    """Attendance and dose over the weeks."""
    return SafeString(drawing.weeks_svg(found.weeks, found.weeks_words, drawing.ON_PAGE))
