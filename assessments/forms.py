"""Forms made from measures: adding a measure adds its fields here by itself."""

from collections.abc import Mapping
from typing import Any

from crispy_forms.layout import HTML, Div, Layout
from django import forms

from assessments.calc.catalogue import BY_KEY
from assessments.calc.measure import Input, Measure
from assessments.calc.vitals import BODY_SIZE
from assessments.forms_schedule import carers
from patients.forms import (
    AsksTwiceForm,
    DayField,
    NumberField,
    YesNoField,
    as_typed,
    plain_helper,
    with_units,
)
from programs.staff.models import User


def field_for(entry: Input) -> forms.Field:
    if entry.options:
        return forms.TypedChoiceField(
            choices=[("", "—"), *entry.options],
            coerce=int,
            empty_value=None,
            required=False,
            label=entry.label,
        )
    if entry.is_yes_no:
        return YesNoField(label=entry.label)
    assert entry.limit is not None, f"{entry.key} needs a limit, options or a question"
    return NumberField(entry.limit, whole=entry.is_whole, label=entry.label)


class AssessmentForm(AsksTwiceForm):
    """The tests of one assessment. A test left wholly empty was not done."""

    performed_on = DayField(label="Performed on")
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(
        self,
        *args: Any,
        keys: list[str],
        today: Any,
        since: Any,
        known_height_cm: Any = None,
        variants: Mapping[str, Mapping[str, Any]] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        if known_height_cm is not None:
            self.initial.setdefault(f"{BODY_SIZE.key}-height_cm", known_height_cm)
        for key, variant in (variants or {}).items():
            for name, value in variant.items():
                self.initial.setdefault(f"{key}-{name}", as_typed(value))
        self.measures = [BY_KEY[key] for key in keys]
        self.today, self.since = today, since
        for measure in self.measures:
            for entry in measure.inputs:
                self.fields[f"{measure.key}-{entry.key}"] = field_for(entry)
        self.helper.layout = Layout(
            "submission_key",
            "seen_version",
            "confirmed",
            Div("performed_on", css_class="fields"),
            Div(*[self._section(measure) for measure in self.measures], css_class="measure-grid"),
            "note",
        )

    def _section(self, measure: Measure) -> Div:
        names = [f"{measure.key}-{entry.key}" for entry in measure.inputs]
        first = measure.inputs[0]
        shape = "items" if first.options or first.is_yes_no else "fields"
        return Div(
            HTML(f"<h2>{measure.name}</h2>"),
            HTML(f'<p class="source">{measure.citation}</p>'),
            Div(*with_units(self, *names), css_class=shape),
            css_class="sheet measure wide" if len(names) > 3 else "sheet measure",
            css_id=measure.key,
        )

    def clean_performed_on(self) -> Any:
        day = self.cleaned_data["performed_on"]
        if day > self.today:
            raise forms.ValidationError("An assessment cannot be performed in the future.")
        if day < self.since:
            raise forms.ValidationError(f"This person was referred on {self.since}; check the day.")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for measure in self.measures:
            if not self._is_touched(measure):
                continue
            for entry in measure.inputs:
                name = f"{measure.key}-{entry.key}"
                if entry.is_needed and data.get(name) is None and name not in self.errors:
                    self.add_error(name, f"{measure.name} needs this.")
        return data

    def _inputs(self, measure: Measure) -> dict[str, Any]:
        return {
            entry.key: self.cleaned_data.get(f"{measure.key}-{entry.key}")
            for entry in measure.inputs
        }

    def _is_touched(self, measure: Measure) -> bool:
        """Something was measured; how it would be done, or a known height, is no test done."""
        beside = {*measure.variant_inputs, *(["height_cm"] if measure is BODY_SIZE else [])}
        given = self._inputs(measure)
        return any(value is not None for key, value in given.items() if key not in beside)

    def entries(self) -> dict[str, dict[str, Any]]:
        """Raw inputs of each test that was touched. Usable on a form with errors too.

        Height and weight are typed once: a walk without its own takes those of the body size.
        """
        found = {m.key: self._inputs(m) for m in self.measures if self._is_touched(m)}
        size = self._inputs(BODY_SIZE) if BODY_SIZE in self.measures else {}
        for inputs in found.values():
            for key in ("height_cm", "weight_kg"):
                if key in inputs and inputs[key] is None:
                    inputs[key] = size.get(key)
        return found


def initial_of(measurements: Any) -> dict[str, Any]:
    """Stored raw inputs in the form's own field names."""
    initial = {}
    for measurement in measurements:
        for name, value in measurement.inputs.items():
            initial[f"{measurement.key}-{name}"] = as_typed(value)
    return initial


class ReasonForm(forms.Form):
    reason = forms.CharField(max_length=200)


class CloseConcernForm(forms.Form):
    outcome = forms.CharField(
        label="What was done, and by whom", widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class HandOverForm(forms.Form):
    to = forms.ModelChoiceField(User.objects.none(), label="Give to")

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        field: Any = self.fields["to"]
        field.queryset = carers(site)
