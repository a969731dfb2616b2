"""Boxes for days, hours and moments: typed in the site's way, and read in the way they were shown.

They are text, since a browser's own picker shows days in the order of the browser, which at a
shared screen nobody can tell. Scripts put the picker beside the box (``house.js``).
"""

from datetime import UTC, date, datetime, time
from typing import Any

from django import forms
from django.utils import timezone

from patients.calc.days import ORDER_WORDS, clock, in_words, numeric_day
from patients.calc.typed_days import NotADay, NotAnHour, read_day, read_hour
from patients.wall import Wall, on_the_wall

EXAMPLE = datetime(2026, 11, 26, 14, 30, tzinfo=UTC)
HALVES = {"A", "P", "AM", "PM", "A.M.", "P.M."}
BESIDE = "-as"  # behind the name of a box: how it was written when it was shown


class TypedTime(str):
    """What was typed, with the way its box was written in, and the moment that stood in it."""

    wall: Wall
    beside: str
    was: datetime | None = None

    @classmethod
    def of(cls, text: str, beside: str) -> "TypedTime":
        made = cls(text)
        code, _, was = beside.partition(" ")
        made.wall, made.beside = Wall.of(code) or on_the_wall(), beside
        try:
            made.was = datetime.fromisoformat(was) if was else None
        except ValueError:
            made.was = None
        return made


class _TimeInput(forms.TextInput):
    template_name = "house/written.html"  # drawn by patients.rendering
    kind = ""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"autocomplete": "off", "data-written": self.kind} | (attrs or {}))

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        beside = value.beside if isinstance(value, TypedTime) else self.beside(value)
        context["widget"] |= {"beside": beside or on_the_wall().code, "beside_name": name + BESIDE}
        context["widget"]["attrs"].setdefault("placeholder", self.example(on_the_wall()))
        return context

    def format_value(self, value: Any) -> Any:
        if value is None or value == "":
            return None
        return value if isinstance(value, str) else self.text(value, on_the_wall())

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        value = data.get(name)
        return TypedTime.of(value, data.get(name + BESIDE, "")) if isinstance(value, str) else value

    def beside(self, value: Any) -> str:
        return on_the_wall().code

    def text(self, value: Any, wall: Wall) -> str:
        raise NotImplementedError

    def example(self, wall: Wall) -> str:
        raise NotImplementedError


class DayInput(_TimeInput):
    kind = "day"

    def text(self, value: Any, wall: Wall) -> str:
        return numeric_day(value, wall.order)

    def example(self, wall: Wall) -> str:
        return ORDER_WORDS[wall.order]


class HourInput(_TimeInput):
    kind = "hour"

    def text(self, value: Any, wall: Wall) -> str:
        return clock(value, is_12h=wall.is_12h)

    def example(self, wall: Wall) -> str:
        return clock(time(14, 30), is_12h=wall.is_12h)


def moment_text(at: datetime, wall: Wall) -> str:
    """A day and an hour in one box, as the moment's own zone has them."""
    return f"{numeric_day(at.date(), wall.order)} {clock(at, is_12h=wall.is_12h)}"


class MomentInput(_TimeInput):
    kind = "moment"

    def text(self, value: Any, wall: Wall) -> str:
        return moment_text(timezone.localtime(value), wall)

    def beside(self, value: Any) -> str:
        was = f" {timezone.localtime(value).isoformat()}" if isinstance(value, datetime) else ""
        return on_the_wall().code + was

    def example(self, wall: Wall) -> str:
        return f"{ORDER_WORDS[wall.order]} {clock(time(14, 30), is_12h=wall.is_12h)}"


def _wall_of(value: str) -> Wall:
    return value.wall if isinstance(value, TypedTime) else on_the_wall()


class DayField(forms.DateField):
    """A calendar day in the site's order, in ISO, or with its month in words."""

    widget = DayInput

    def to_python(self, value: Any) -> date | None:
        if not isinstance(value, str):
            return super().to_python(value)
        if not value.strip():
            return None
        try:
            return read_day(value, _wall_of(value).order)
        except NotADay as error:
            raise forms.ValidationError(str(error), code="invalid") from error


class HourField(forms.TimeField):
    """A time of the day, of 12 or 24 hours."""

    widget = HourInput

    def to_python(self, value: Any) -> time | None:
        if not isinstance(value, str):
            return super().to_python(value)
        if not value.strip():
            return None
        try:
            return read_hour(value, is_12h=_wall_of(value).is_12h)
        except NotAnHour as error:
            raise forms.ValidationError(str(error), code="invalid") from error

    def prepare_value(self, value: Any) -> Any:
        return clock(value, is_12h=on_the_wall().is_12h) if isinstance(value, time) else value


class MomentField(forms.DateTimeField):
    """A day and an hour on the site's wall clock; untouched, the moment stays to the second."""

    widget = MomentInput

    def prepare_value(self, value: Any) -> Any:
        return value  # the box needs the moment itself

    def to_python(self, value: Any) -> datetime | None:
        if not isinstance(value, str):
            return super().to_python(value)
        if not value.strip():
            return None
        wall, was = _wall_of(value), getattr(value, "was", None)
        if was is not None and value.strip() == moment_text(was, wall):
            return was
        try:
            return read_moment(value, wall)
        except (NotADay, NotAnHour) as error:
            raise forms.ValidationError(str(error), code="invalid") from error


def read_moment(text: str, wall: Wall) -> datetime:
    """A day, then an hour, on the wall clock of the current time zone.

    An hour that comes twice, when clocks go back, wants the short name of its zone behind it. Gives
    the moment in UTC: two zones never agree on such an hour (PEP 495).

    Raises
    ------
    NotADay, NotAnHour : no such day or hour, or not one of them alone.
    """
    is_iso = text[10:11] == "T"  # hours of 24 always
    parts = (text.replace("T", " ", 1) if is_iso else text).split()
    zone = ""
    if len(parts) > 2 and parts[-1].isupper() and parts[-1] not in HALVES:
        zone = parts.pop()
    wrong = f"{text[:30]!r}: write a day and a time, such as {_example(wall)}."
    for place in range(1, len(parts)):
        head, tail = " ".join(parts[:place]).rstrip(","), " ".join(parts[place:])
        try:
            day = read_day(head, wall.order)
        except NotADay as error:
            wrong = str(error) if place == 1 and len(head) > len("2026") else wrong
        else:
            return _at(day, read_hour(tail, is_12h=wall.is_12h and not is_iso), zone, text)
    raise NotADay(wrong)


def _example(wall: Wall) -> str:
    return moment_text(EXAMPLE, wall)


def _at(day: date, hour: time, zone: str, text: str) -> datetime:
    here = timezone.get_current_timezone()
    first = datetime.combine(day, hour, here)
    second = first.replace(fold=1)
    both = {f"{at:%Z}": at for at in (first, second)}
    if first.utcoffset() == second.utcoffset():
        if zone and zone not in both:
            raise NotAnHour(f"{text[:30]!r}: {zone} is not the time of this site on that day.")
        return first.astimezone(UTC)
    if first.astimezone(UTC).astimezone(here).replace(tzinfo=None) != first.replace(tzinfo=None):
        raise NotAnHour(
            f"{text[:30]!r}: there was no such time on {in_words(day)}, clocks went forward."
        )
    if zone in both:
        return both[zone].astimezone(UTC)
    raise NotAnHour(
        f"{text[:30]!r} came twice on {in_words(day)}, when clocks went back: write "
        f"{' or '.join(both)} behind it."
    )
