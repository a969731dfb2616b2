"""The roster's short words as HTML: forty rows of them are on a page that is asked for all day."""

from collections.abc import Iterable
from functools import lru_cache

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from programs.attendance.today.roster import Word

register = template.Library()


@register.filter
def in_spans(words: Iterable[Word]) -> SafeString:
    """Each word with its sign in a span of its look."""
    return mark_safe("".join(map(_span, words)))  # noqa: S308  (each is escaped in _span)


@lru_cache(maxsize=2048)
def _span(word: Word) -> SafeString:
    """The same few words stand beside most names."""
    sign = format_html('<span aria-hidden="true">{}</span> ', word.sign) if word.sign else ""
    return format_html('<span class="word {}">{}{}</span>', word.look, sign, word.text)
