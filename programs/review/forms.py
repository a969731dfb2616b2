"""The form of a treatment plan."""

from typing import Any

from django import forms

from patients.forms import plain_helper
from programs.prescription.models import TreatmentPlan


class TreatmentPlanForm(forms.ModelForm):
    class Meta:
        model = TreatmentPlan
        fields = ["goals", "exercise", "risk_factors", "psychosocial"]
        widgets = dict.fromkeys(fields, forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
