"""The environment, read through three typed readers that refuse what they do not understand."""

import os

from django.core.exceptions import ImproperlyConfigured

YES, NO = {"1", "true", "on"}, {"0", "false", "off", ""}


def text(name: str, default: str = "") -> str:
    return os.environ.get(name, default)


def flag(name: str, default: bool = False) -> bool:
    raw = os.environ.get(name, str(default)).strip().lower()
    if raw in YES:
        return True
    if raw in NO:
        return False
    raise ImproperlyConfigured(f"{name} must be 1 or 0, not {raw!r}.")


def integer(name: str, default: int) -> int:
    raw = os.environ.get(name, str(default)).strip()
    try:
        return int(raw)
    except ValueError as error:
        raise ImproperlyConfigured(f"{name} must be a whole number, not {raw!r}.") from error
