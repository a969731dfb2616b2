"""One proposed step: with its own numbers, or left with a reason."""

from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms

from patients.calc.limits import BOUT_MINUTES
from patients.forms import AsksTwiceForm, NumberField
from programs.prescription.forms import METS
from programs.prescription.models import StepAnswer


class StepForm(AsksTwiceForm):
    """The numbers of the next dose as proposed; they may be others."""

    dose = forms.IntegerField(widget=forms.HiddenInput)
    minutes = NumberField(BOUT_MINUTES, whole=True, label="Minutes a session", required=True)
    mets = NumberField(METS, label="Work")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        hidden = ["submission_key", "confirmed", "dose"]
        self.helper.layout = Layout(*hidden, Div("minutes", "mets", css_class="four"))


class LeaveForm(AsksTwiceForm):
    """Why the dose stays as it is."""

    dose = forms.IntegerField(widget=forms.HiddenInput)
    because = forms.CharField(
        max_length=StepAnswer._meta.get_field("because").max_length, label="Why not now"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.layout = Layout("submission_key", "confirmed", "dose", "because")
