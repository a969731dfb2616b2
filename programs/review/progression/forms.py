"""One proposed step: with its own numbers, or left with a reason."""

from collections.abc import Sequence
from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms

from patients.calc.limits import BOUT_MINUTES
from patients.calc.measuring import STORED, Units
from patients.forms import Asked, AsksTwiceForm, NumberField
from programs.prescription.boxes_of_lifts import LiftsField, box_of
from programs.prescription.calc.lifts import Lift, to_ask
from programs.prescription.forms import METS
from programs.prescription.models import StepAnswer


class StepForm(AsksTwiceForm):
    """The numbers of the next dose as proposed; they may be others."""

    dose = forms.IntegerField(widget=forms.HiddenInput)
    minutes = NumberField(BOUT_MINUTES, whole=True, label="Minutes a session", required=True)
    mets = NumberField(METS, label="Work")
    lifts = LiftsField()

    def __init__(
        self,
        *args: Any,
        strength: str = "",
        lifts: Sequence[Lift] = (),
        before: Sequence[Lift] = (),
        units: Units = STORED,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.strength, self.before, self.units = strength, before, units
        if strength:
            box_of(self).fill(lifts, units)
        else:
            del self.fields["lifts"]
        hidden = ["submission_key", "confirmed", "dose"]
        self.helper.layout = Layout(
            *hidden, Div("minutes", "mets", css_class="four"), *(["lifts"] if strength else [])
        )

    def unusual(self) -> list[str]:
        """As everywhere; and about a lift that may have slipped."""
        found = super().unusual()
        lifts = self.cleaned_data.get("lifts")
        if lifts is not None:
            found += [Asked("lifts", words) for words in to_ask(self.before, lifts, self.units)]
        return found


class LeaveForm(AsksTwiceForm):
    """Why the dose stays as it is."""

    dose = forms.IntegerField(widget=forms.HiddenInput)
    because = forms.CharField(
        max_length=StepAnswer._meta.get_field("because").max_length, label="Why not now"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.layout = Layout("submission_key", "confirmed", "dose", "because")
