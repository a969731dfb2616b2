"""Teaching and home reports."""

from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms

from patients.forms import CrispyModelForm, DayField, OnceForm, YesNoField
from programs.attendance.calc.teaching import COMPONENTS
from programs.attendance.models import HomeReport


class TeachingForm(OnceForm):
    on = DayField(label="Day")
    component = forms.ChoiceField(
        choices=[("", "Choose"), *[(c.id, c.name) for c in COMPONENTS]], label="Topic"
    )
    topic = forms.CharField(
        max_length=120,
        label="Details",
        widget=forms.TextInput(attrs={"list": "topics", "autocomplete": "off"}),
    )
    minutes = forms.IntegerField(min_value=1, max_value=240, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        hidden = ["submission_key", "seen_version"]
        fields = Div("on", "component", "topic", "minutes", css_class="fields")
        self.helper.layout = Layout(*hidden, fields)

    def given(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ["on", "component", "topic", "minutes"]}


class HomeReportForm(CrispyModelForm):
    week_of = DayField(label="Week beginning")
    has_symptoms = YesNoField(label="Symptoms at home?")

    class Meta:
        model = HomeReport
        fields = ["week_of", "minutes", "days", "steps", "has_symptoms", "symptoms"]
