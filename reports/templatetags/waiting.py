"""What must not wait, counted beside Due on every page."""

from typing import Any

from django import template

from reports import worklists

register = template.Library()


@register.simple_tag(takes_context=True)
def n_waiting(context: Any) -> str:
    """How many holds, stops, concerns and events need the reader, in words; empty for none."""
    n = worklists.n_waiting(context["user"])
    return f"{worklists.MOST_COUNTED}+" if n > worklists.MOST_COUNTED else str(n or "")
