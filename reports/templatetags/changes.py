"""Lines of a person's changes, written here and not by a template each."""

from collections.abc import Iterable
from typing import Any

from django import template
from django.template.defaultfilters import truncatechars
from django.utils.html import format_html_join
from django.utils.safestring import SafeString, mark_safe

from patients.rendering import fill_each
from patients.templatetags.house import moment

register = template.Library()

ROW = (
    '<tr><td class="nb">{}</td><td>{}</td>'
    '<td>{} <span class="small dim">{}{}</span></td><td class="small">{}{}</td></tr>'
)
NEW = mark_safe('<span class="dim">new:</span> ')
AFTER, BEFORE_AND_AFTER = "{} <b>{}</b>", "{} <s>{}</s> <b>{}</b>"


@register.filter
def change_lines(lines: Iterable[Any]) -> SafeString:
    """Versions: when, who, what, before and after."""
    return fill_each(ROW, map(_cells, lines))


def _cells(line: Any) -> tuple[Any, ...]:
    told: list[tuple[str, ...]]
    if line.is_new:
        told = [(one.name, _short(one.after, 80)) for one in line.fields]
    else:
        told = [(one.name, _short(one.before, 60), _short(one.after, 80)) for one in line.fields]
    return (
        moment(line.at),
        line.by,
        line.what,
        line.row,
        f", {line.reason}" if line.reason else "",
        NEW if line.is_new else "",
        format_html_join("; ", AFTER if line.is_new else BEFORE_AND_AFTER, told),
    )


def _short(text: str, most: int) -> str:
    """What fits stays; the rest is cut as ``truncatechars`` cuts."""
    return text if text.isascii() and len(text) <= most else truncatechars(text, most)
