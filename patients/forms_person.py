"""Forms of the person and the clinical background."""

from datetime import date
from typing import Any

from crispy_forms.layout import HTML, Div, Layout
from django import forms

from patients.calc.age import age_on
from patients.calc.days import in_words
from patients.calc.limits import AGE_YEARS
from patients.forms import DayField, OnceForm, change_data, stored_and_here
from patients.models import (
    Allergy,
    Condition,
    Device,
    Medicine,
    Patient,
    Precaution,
    Procedure,
)


class PatientForm(forms.ModelForm):
    class Meta:
        model = Patient
        fields = ["given_name", "family_name", "born_on", "sex", "record_number", "phone"]
        field_classes = {"born_on": DayField}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["given_name"].required = True  # a single name comes with a list, asked about


class AsksAgeForm(forms.ModelForm):
    """An age nobody usually has is asked about once; the same birth date again lets it through."""

    age_confirmed = forms.CharField(required=False, widget=forms.HiddenInput)

    def ask_age(self, born_on: date, day: date) -> None:
        age = age_on(born_on, day)
        if not AGE_YEARS.is_unusual(age) or self.data.get("age_confirmed") == f"{born_on}":
            return
        words = f"Date of birth {in_words(born_on)}: {age} years old. Is that right?"
        self.add_error("born_on", f"{words} Correct it, or save again.")
        change_data(self, age_confirmed=f"{born_on}")


class DetailsForm(OnceForm, AsksAgeForm):
    """Everything about the person on one page, with the version it shows."""

    class Meta:
        model = Patient
        fields = [
            *PatientForm.Meta.fields,
            "language",
            "needs_interpreter",
            "emergency_name",
            "emergency_relation",
            "emergency_phone",
            "mobility_aid",
            "tobacco",
            "tobacco_quit_on",
            "has_no_allergies",
        ]
        field_classes = {"born_on": DayField, "tobacco_quit_on": DayField}
        widgets = {"needs_interpreter": forms.NullBooleanSelect()}

    def __init__(self, *args: Any, today: Any, **kwargs: Any) -> None:
        super().__init__(*args, version=kwargs["instance"].version, **kwargs)
        self.today = today
        self.fields["given_name"].required = bool(self.instance.given_name)
        for name in ("mobility_aid", "tobacco"):
            field: Any = self.fields[name]
            field.choices = [("", "not asked"), *[c for c in field.choices if c[0]]]
        self.helper.layout = Layout(
            "submission_key",
            "seen_version",
            "age_confirmed",
            Div(*PatientForm.Meta.fields, css_class="fields"),
            HTML("<h3>In an emergency, call</h3>"),
            Div("emergency_name", "emergency_relation", "emergency_phone", css_class="fields"),
            HTML("<h3>To talk and to move</h3>"),
            Div("language", "needs_interpreter", "mobility_aid", css_class="fields"),
            Div("tobacco", "tobacco_quit_on", css_class="fields"),
            "has_no_allergies",
        )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for name in ("born_on", "tobacco_quit_on"):
            if data.get(name) and data[name] > self.today:
                self.add_error(name, "This date lies in the future.")
        born = data.get("born_on")
        if born and born <= self.today and "born_on" in self.changed_data:
            self.ask_age(born, self.today)
        return data

    def against(self, stored: Patient) -> list[str]:
        """What somebody else stored meanwhile, field by field, beside what is typed here."""
        return stored_and_here(
            (self.fields[name].label, self.cleaned_data.get(name), getattr(stored, name))
            for name in self.Meta.fields
        )


class PastDatesForm(forms.ModelForm):
    """Dates that cannot lie in the future; ``day`` is the site's today."""

    past: tuple[str, ...] = ()
    day: Any = None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for name in self.past:
            if self.day and data.get(name) and data[name] > self.day:
                self.add_error(name, "This date lies in the future.")
        return data


class ConditionForm(PastDatesForm):
    past = ("happened_on",)

    class Meta:
        model = Condition
        fields = ["kind", "happened_on", "icd10"]
        field_classes = {"happened_on": DayField}


class MedicineForm(PastDatesForm):
    past = ("started_on",)

    class Meta:
        model = Medicine
        fields = ["name", "drug_class", "started_on"]
        field_classes = {"started_on": DayField}


class DeviceForm(PastDatesForm):
    past = ("implanted_on", "detection_read_on")

    class Meta:
        model = Device
        fields = ["kind", "implanted_on", "detection_bpm", "detection_read_on"]
        field_classes = {"detection_read_on": DayField, "implanted_on": DayField}


class ProcedureForm(PastDatesForm):
    past = ("performed_on",)

    class Meta:
        model = Procedure
        fields = ["kind", "performed_on", "access", "note"]
        field_classes = {"performed_on": DayField}


class AllergyForm(PastDatesForm):
    class Meta:
        model = Allergy
        fields = ["substance", "reaction"]


class PrecautionForm(PastDatesForm):
    class Meta:
        model = Precaution
        fields = ["kind", "instruction", "review_on"]
        field_classes = {"review_on": DayField}


BACKGROUND_FORMS: dict[str, type[PastDatesForm]] = {
    "condition": ConditionForm,
    "operation": ProcedureForm,
    "medicine": MedicineForm,
    "device": DeviceForm,
    "allergy": AllergyForm,
    "precaution": PrecautionForm,
}


class DetectionForm(forms.Form):
    """A detection rate read anew."""

    bpm = forms.IntegerField(
        min_value=20,
        max_value=250,
        label="Detects from, /min",
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    read_on = DayField(label="read on")


class ReviewForm(forms.Form):
    review_on = DayField(label="Stays until")
