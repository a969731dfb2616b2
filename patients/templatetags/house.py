"""What every page of the house may use: unseen boxes, short words with their signs."""

from collections.abc import Callable, Iterable
from datetime import date, datetime, time
from functools import lru_cache
from typing import Any

from django import template
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from patients import rendering, wall
from patients.addresses import to
from patients.calc import days
from patients.calc.measuring import Unit
from patients.calc.words import SIGNS, Word, due_word
from patients.submissions import new_key

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


@register.simple_tag
def once() -> SafeString:
    """The key by which a form of buttons alone counts once however often it is sent."""
    return hidden(submission_key=new_key())


@register.simple_tag
def address(route: str, *keys: int) -> str:
    """As Django's ``url``, for a route whose arguments are numbers: quick enough for every line."""
    return to(route, *keys)


@register.filter
def who(patient: Any) -> SafeString:
    """A person's name, leading to their overview."""
    return rendering.who(patient)


@register.filter
def in_spans(words: Iterable[Word]) -> SafeString:
    """Each word with its sign in a span of its look."""
    return mark_safe("".join(map(_span, words)))  # noqa: S308  (each is escaped in _span)


@register.filter
def in_span(word: Word) -> SafeString:
    """One word with its sign in a span of its look."""
    return _span(word)


@register.simple_tag
def due_in(day: date, days_left: int) -> SafeString:
    """When something is due, told from today."""
    return _span(due_word(day, days_left))


@register.filter
def day(value: date | None) -> str:
    """3 Feb, and 3 Feb 2025 outside the current year."""
    return _told(value, days.short_day)


@register.filter
def weekday(value: date | None) -> str:
    """Tue 3 Feb, and Mon 3 Feb 2025 outside the current year."""
    return _told(value, days.short_weekday)


@register.filter
def long_day(value: date | None) -> str:
    """Tuesday 3 February, and with its year outside the current one."""
    return _told(value, days.long_day)


@register.filter
def clock(value: time | datetime | None) -> str:
    """14:05, or 2:05 pm where the site writes hours of twelve."""
    if value is None or value == "":
        return ""
    return wall.clock(timezone.localtime(value) if isinstance(value, datetime) else value)


@register.filter
def moment(value: datetime | None, weekday: str = "") -> str:
    """3 Feb 2026, 14:05, with the hour in the site's way; with its weekday if asked for."""
    if not value:
        return ""
    local = timezone.localtime(value)
    named = f"{local:%a} " if weekday else ""
    return f"{named}{days.in_words(local.date())}, {wall.clock(local)}"


@register.filter
def to_the_second(value: datetime) -> str:
    """3 Feb 2026, 14:05:09, of 24 hours everywhere: the access log is compared with others."""
    local = timezone.localtime(value)
    return f"{days.in_words(local.date())}, {local:%-H:%M:%S}"


@register.filter
def told_in(value: float | None, unit: Unit) -> str:
    """A stored value in somebody's unit, with its name: 3.2 mph."""
    return "" if value is None else unit.told(value)


@register.simple_tag
def now_here() -> str:
    """This moment on the clock on the site's wall, for what is printed."""
    return moment(timezone.now())


def _told(value: date | None, words: Callable[[date, date], str]) -> str:
    """A day, or the day of an instant, beside today by the clock on the site's wall."""
    if not value:
        return ""
    on = timezone.localtime(value).date() if isinstance(value, datetime) else value
    return words(on, timezone.localdate())


@register.filter
@lru_cache(maxsize=32)
def signed(level: str) -> SafeString:
    """A level of a rule in words, behind its sign."""
    return format_html('<span aria-hidden="true">{}</span> {}', SIGNS[level], level.capitalize())


@register.simple_tag
def why(*parts: object) -> SafeString:
    """The code of a rule, its source, whose limit it is: ``rendering.why``."""
    return rendering.why(*parts)


# Forty rows of the same few words are on a page that is asked for all day.
@lru_cache(maxsize=2048)
def _span(word: Word) -> SafeString:
    sign = format_html('<span aria-hidden="true">{}</span> ', word.sign) if word.sign else ""
    return format_html('<span class="word {}">{}{}</span>', word.look, sign, word.text)


@register.simple_tag
def question(field: Any) -> SafeString:
    """One question of a form: its label, its box, what is wrong, what helps."""
    return mark_safe(rendering.question(field))  # noqa: S308
