"""Sessions of a course as a picture and as a table, written here and not by a template each."""

from collections.abc import Iterable
from typing import Any

from django import template
from django.template.defaultfilters import floatformat
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from patients.addresses import to
from patients.calc.days import in_words
from patients.rendering import fill, fill_each

register = template.Library()

SHAPES = {
    "attended": '<circle class="attended" r="9" />',
    "held": '<circle class="ring" r="9" /><path class="half" d="M-9 0A9 9 0 0 1 9 0Z" />',
    "missed": '<circle class="missed" r="8" /><path class="missed" d="M-8 8L8 -8" />',
    "stopped": '<rect class="stopped" x="-8" y="-8" width="16" height="16" rx="2" />',
    "now": '<circle class="ring" r="9" /><circle class="half" r="4" />',
}
CELL = '<g transform="translate({:.1f} {:.1f})"><title>{}</title>{}</g>'
SESSION = (
    '<tr><td class="nb"><a href="{}">{}</a></td><td>{}</td><td class="n">{}</td>'
    '<td>{}</td><td class="n">{}</td><td class="n">{}</td></tr>'
)
NONE = "–"


@register.filter
def week_cells(cells: Iterable[Any]) -> SafeString:
    """The sessions of the picture; what was recorded leads to its sheet."""
    return mark_safe("\n".join(map(_cell, cells)))  # noqa: S308  (words are escaped in _cell)


def _cell(cell: Any) -> str:
    words = escape(cell.words)
    shape = SHAPES.get(cell.state) or fill('<circle class="{}" r="8" />', cell.state)
    drawn = CELL.format(cell.x, cell.y, words, shape)
    if not cell.url_pk:
        return drawn
    return f'<a href="{to("attendance:sheet", cell.url_pk)}" aria-label="{words}">{drawn}</a>'


@register.filter
def session_lines(lines: Iterable[Any]) -> SafeString:
    """The same sessions as lines of a table."""
    return fill_each(SESSION, map(_session, lines))


def _session(line: Any) -> tuple[Any, ...]:
    return (
        to("attendance:session-record", line.visit),
        f"{line.on:%a} {in_words(line.on)}",
        line.state,
        NONE if line.minutes is None else line.minutes,
        line.pressure or NONE,
        NONE if line.dose is None else floatformat(line.dose, 0),
        NONE if line.rpe is None else line.rpe,
    )
