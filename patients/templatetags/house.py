"""What a form sends along without showing it."""

from typing import Any

from django import template
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_tag
def hidden(**values: Any) -> SafeString:
    """A hidden box for each value; for a list or tuple, one for each of its items."""
    pairs = [
        (name, item)
        for name, value in values.items()
        for item in (value if isinstance(value, list | tuple) else [value])
    ]
    return format_html_join("\n", '<input type="hidden" name="{}" value="{}">', pairs)
