"""Which class a missed session is made up in."""

from datetime import date
from typing import Any

from django import forms

from programs.enrolment.models import ClassSlot


class MakeUpForm(forms.Form):
    """A day and a class, as one press sends them: ``2026-11-30:5``."""

    sitting = forms.CharField(max_length=40)

    def clean_sitting(self) -> tuple[date, ClassSlot]:
        """The day and the class; anything else chooses nothing."""
        on, _, key = str(self.cleaned_data["sitting"]).partition(":")
        slot: Any = ClassSlot.objects.filter(pk=key).first() if key.isdecimal() else None
        try:
            day = date.fromisoformat(on)
        except ValueError:
            day = None
        if day is None or slot is None:
            raise forms.ValidationError("Choose a class.")
        return day, slot
