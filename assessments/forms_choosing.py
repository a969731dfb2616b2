"""What a site does at one kind of assessment, and by which equation."""

from typing import Any

from crispy_forms.layout import Layout
from django import forms
from django.utils.html import format_html

from assessments.calc.catalogue import MEASURES
from assessments.calc.choosing import LIMITS, Candidate
from assessments.calc.measure import Measure
from patients.forms import OnceForm, plain_helper


class LimitsForm(forms.Form):
    """What seems to limit somebody."""

    limit = forms.MultipleChoiceField(
        choices=LIMITS, label="", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, limits: list[str]) -> None:
        super().__init__(initial={"limit": limits})
        self.helper = plain_helper()


class KeptTestsForm(forms.Form):
    """Tests proposed or chosen already, all ticked, each with the time it takes."""

    test = forms.MultipleChoiceField(label="", required=False, widget=forms.CheckboxSelectMultiple)

    def __init__(self, tests: list[tuple[Measure, Candidate | None]]) -> None:
        super().__init__(initial={"test": [measure.key for measure, _ in tests]})
        self.helper = plain_helper()
        field: Any = self.fields["test"]
        field.choices = [(measure.key, self._words(measure, about)) for measure, about in tests]

    def _words(self, measure: Measure, about: Candidate | None) -> str:
        if about is None:
            return measure.name
        minutes = '{} <span class="dim small nb">{} min</span>'
        return format_html(minutes, measure.name, about.minutes)


class UsualTestsForm(OnceForm):
    tests = forms.MultipleChoiceField(
        choices=[(measure.key, measure.name) for measure in MEASURES],
        widget=forms.CheckboxSelectMultiple,
        label="Tests",
    )
    reason = forms.CharField(max_length=200, label="Reason")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.layout = Layout("submission_key", "seen_version", "tests", "reason")


class EquationForm(OnceForm):
    equation = forms.TypedChoiceField(coerce=int, label="Reference equation")
    reason = forms.CharField(max_length=200, label="Reason")

    def __init__(self, *args: Any, measure: Measure, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["equation"]
        field.choices = measure.equations
        self.helper.layout = Layout("submission_key", "seen_version", "equation", "reason")
