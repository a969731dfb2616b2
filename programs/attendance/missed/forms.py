"""Which class a missed session is made up in."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms

from programs.enrolment.intake.forms import ContactForm
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


class CallForm(ContactForm):
    """A call about missed sessions: a contact like any other, and up to which one it was about."""

    class Meta(ContactForm.Meta):
        fields = [*ContactForm.Meta.fields, "missed_until"]
        widgets = {"missed_until": forms.HiddenInput()}

    def __init__(self, *args: Any, days: Sequence[date], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.days = days
        self.fields["note"].label = "What was said"
        self.fields["missed_until"].required = True
        if days:
            self.initial["missed_until"] = days[-1]

    def clean_missed_until(self) -> date:
        """A day this page showed; more may have been missed since, and is not settled by this."""
        day: date = self.cleaned_data["missed_until"]
        if day not in self.days:
            raise forms.ValidationError("Somebody recorded a call meanwhile; see Due.")
        return day
