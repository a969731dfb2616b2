"""What a site does at one kind of assessment, and by which equation."""

from typing import Any

from crispy_forms.layout import Layout
from django import forms

from assessments.calc.catalogue import MEASURES
from assessments.calc.measure import Measure
from patients.forms import OnceForm


class UsualTestsForm(OnceForm):
    tests = forms.MultipleChoiceField(
        choices=[(measure.key, measure.name) for measure in MEASURES],
        widget=forms.CheckboxSelectMultiple,
        label="Tests",
    )
    reason = forms.CharField(max_length=200, label="Why does it change?")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.layout = Layout("submission_key", "seen_version", "tests", "reason")


class EquationForm(OnceForm):
    equation = forms.TypedChoiceField(coerce=int, label="Reference equation")
    reason = forms.CharField(max_length=200, label="Why does it change?")

    def __init__(self, *args: Any, measure: Measure, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["equation"]
        field.choices = measure.equations
        self.helper.layout = Layout("submission_key", "seen_version", "equation", "reason")
