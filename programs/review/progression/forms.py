"""One proposed step: with its own numbers, or left with a reason."""

from collections.abc import Sequence
from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms

from patients.calc.limits import BOUT_MINUTES
from patients.calc.measuring import STORED, Units
from patients.forms import Asked, AsksTwiceForm, NumberField
from programs.prescription.boxes_of_lifts import LiftsField, box_of
from programs.prescription.calc.lifts import Lift, key_of
from programs.prescription.forms import METS
from programs.prescription.models import StepAnswer

MUCH_HEAVIER = 1.15  # asked about beyond it (project choice)


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
        """As everywhere; and a load that is much more than the one in force."""
        found = super().unusual()
        before = {key_of(lift.exercise): lift.kg for lift in self.before}
        for lift in self.cleaned_data.get("lifts", ()):
            old = before.get(key_of(lift.exercise))
            if old and lift.kg and lift.kg > old * MUCH_HEAVIER:
                told = self.units.weight.told
                words = f"{lift.exercise} {told(lift.kg)}, in force {told(old)}"
                found.append(Asked("lifts", words))
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
