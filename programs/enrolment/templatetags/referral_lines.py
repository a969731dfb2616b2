"""Lines of waiting referrals, written here and not by a template each."""

from collections.abc import Iterable
from typing import Any

from django import template
from django.utils.safestring import SafeString

from patients.addresses import to
from patients.calc.days import in_words
from patients.rendering import fill, fill_each
from patients.templatetags.house import day, in_span, weekday

register = template.Library()

ROW = (
    '<tr><td><b>{}</b><br><span class="small dim">referred {}{}</span></td><td>{}{}</td>'
    '<td class="nb">{}<br><span class="small dim">{}</span>{}</td><td>{}{}</td>'
    '<td class="small">{}</td><td class="hide-m dim">{}</td>'
    '<td class="n"><a class="press" href="{}">Open</a></td></tr>'
)
BELOW = '<br><span class="small dim">{}</span>'
EARLY = fill(BELOW, "received before discharge")


@register.filter
def referral_lines(lines: Iterable[Any]) -> SafeString:
    """Each with its clock, its next step and whose it is."""
    return fill_each(ROW, map(_cells, lines))


def _cells(line: Any) -> tuple[Any, ...]:
    row, clock, step = line.referral, line.clock, line.step
    happened_on = row.condition.happened_on
    is_early = row.is_early and not clock.is_before_discharge
    return (
        row.patient,
        day(row.referred_on),
        f", {row.get_source_display()}" if row.source else "",
        ", ".join(map(str, row.conditions())),
        fill(BELOW, in_words(happened_on)) if happened_on else "",
        in_span(clock.word),
        clock.note,
        EARLY if is_early else "",
        step.words,
        fill(BELOW, f"from {weekday(step.on)}") if step.on else "",
        line.who,
        row.patient.site.name,
        to("enrolment:referral", row.pk),
    )
