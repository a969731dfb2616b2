"""A day in words."""

from datetime import date


def in_words(day: date) -> str:
    """A day as messages and pages write it: 3 Feb 2026."""
    return f"{day:%-d %b %Y}"
