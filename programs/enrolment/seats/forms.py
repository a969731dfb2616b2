"""Choosing weekly classes, each with the seats it keeps free."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.html import format_html

from programs.enrolment.models import ClassSlot


class ClassBoxes(forms.CheckboxSelectMultiple):
    """A box for each class; one that is full can be kept but not taken."""

    full: frozenset[int] = frozenset()

    def create_option(self, name: Any, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        if not option["selected"] and int(str(value)) in self.full:
            option["attrs"]["disabled"] = True
        return option


class ClassesField(forms.ModelMultipleChoiceField):
    """Weekly classes; ``offer_classes`` says of which site."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Classes")
        kwargs.setdefault("widget", ClassBoxes())
        super().__init__(ClassSlot.objects.none(), **kwargs)


def offer_classes(form: forms.Form, site: Any) -> None:
    field: Any = form.fields["slots"]
    field.queryset = ClassSlot.objects.filter(site=site, is_open=True)


def show_seats(form: forms.Form, rows: Iterable[Any]) -> None:
    """Say beside each class how many seats it keeps free."""
    field: Any = form.fields["slots"]
    words = '{} <span class="small dim">{}</span>'
    field.choices = [
        (row.slot.pk, format_html(words, row.slot, f"{row.free} free" if row.free else "full"))
        for row in rows
    ]
    field.widget.full = frozenset(row.slot.pk for row in rows if not row.free)
    field.label = "Classes, with the seats each keeps free over the next twelve weeks"
    if not field.choices:
        field.help_text = "This site has no open class."
