"""Classes, closed days, and a class that differs on one day."""

from typing import Any

from django import forms

from patients.boxes_of_time import HourField
from patients.forms import CrispyModelForm, DayField, plain_helper
from programs.enrolment.models import ClassChange, ClassSlot


class ClassForm(CrispyModelForm):
    class Meta:
        model = ClassSlot
        fields = [
            "weekday", "starts_at", "minutes", "seats", "staff_needed", "ecg_channels", "is_open",
        ]  # fmt: skip
        field_classes = {"starts_at": HourField}


class ClosureForm(forms.Form):
    on = DayField(label="Closed on")
    reason = forms.CharField(max_length=80)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class ClassChangeForm(CrispyModelForm):
    class Meta:
        model = ClassChange
        fields = ["slot", "on", "is_cancelled", "starts_at", "seats", "reason"]
        field_classes = {"on": DayField, "starts_at": HourField}

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        slot: Any = self.fields["slot"]
        slot.queryset = ClassSlot.objects.filter(site=site, is_open=True)
        slot.label = "Class"
