"""An absence, and the hour of arrival."""

from typing import Any

from django import forms

from patients.boxes_of_time import HourField
from patients.forms import plain_helper
from programs.attendance.models import Visit


class AbsentForm(forms.Form):
    absence = forms.ChoiceField(choices=Visit.Absence.choices, label="Reason")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class ArrivalForm(forms.Form):
    at = HourField(label="Arrival time")
    seen_version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "arrival_%s")
        kwargs.setdefault("use_required_attribute", False)
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
