"""Referral, contact, eligibility, enrolment and list forms."""

from typing import Any, ClassVar

from crispy_forms.layout import HTML, Div, Layout
from django import forms

from patients.calc.limits import LVEF_PERCENT
from patients.forms import (
    DayField,
    DayInput,
    NumberField,
    OnceForm,
    PatientForm,
    plain_helper,
    with_units,
)
from patients.models import Condition, Patient
from programs.enrolment.calc import columns
from programs.enrolment.calc.calendar import SESSIONS
from programs.enrolment.calc.file_text import MAX_BYTES
from programs.enrolment.calc.referral_row import DAY_FIRST, ICD10_SHAPE, MONTH_FIRST
from programs.enrolment.models import (
    ClassSlot,
    ContactAttempt,
    EligibilityAnswer,
    Enrolment,
    Referral,
)

NOTHING_CHOSEN = ("", "choose")  # a list never answers for somebody
CLINICAL = [
    "is_angina_stable",
    "lvef_percent",
    "nyha_class",
    "hf_therapy_since",
    "last_cv_stay_on",
    "is_procedure_planned",
    "planned_procedure_on",
]


class ReferralForm(forms.ModelForm):
    """The referral and its one condition."""

    kind = forms.ChoiceField(choices=[NOTHING_CHOSEN, *Condition.Kind.choices], label="Condition")
    event_on = DayField(label="Event date", required=False)
    icd10 = forms.CharField(label="ICD-10-CM code", max_length=10, required=False)
    lvef_percent = NumberField(LVEF_PERCENT)

    class Meta:
        model = Referral
        fields = ["referred_on", "discharged_on", "referrer", *CLINICAL, "note"]
        dates = ["referred_on", "discharged_on", "hf_therapy_since"]
        dates += ["last_cv_stay_on", "planned_procedure_on"]
        widgets: ClassVar[dict[str, Any]] = {name: DayInput() for name in dates} | {
            "note": forms.Textarea(attrs={"rows": 2}),
            "is_angina_stable": forms.NullBooleanSelect(),
            "is_procedure_planned": forms.NullBooleanSelect(),
        }

    def __init__(self, *args: Any, today: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.helper = plain_helper()
        if self.instance.pk:
            condition = self.instance.condition
            self.initial["kind"] = condition.kind
            self.initial["event_on"] = condition.happened_on
            self.initial["icd10"] = condition.icd10
        self.helper.layout = Layout(
            Div("kind", "event_on", "icd10", css_class="fields"),
            Div("referred_on", "discharged_on", "referrer", css_class="fields"),
            HTML("<h3>Asked for angina and heart failure</h3>"),
            Div(*with_units(self, *CLINICAL), css_class="fields"),
            "note",
        )

    def clean_icd10(self) -> str:
        code = self.cleaned_data["icd10"].upper().strip()
        if code and not ICD10_SHAPE.fullmatch(code):
            raise forms.ValidationError(f"{code} does not have the shape of a code such as I21.4.")
        return code

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for name in ["event_on", "referred_on"]:
            if data.get(name) and data[name] > self.today:
                self.add_error(name, "This date lies in the future.")
        event, discharged = data.get("event_on"), data.get("discharged_on")
        if event and discharged and discharged < event:
            self.add_error("discharged_on", "Discharge lies before the event.")
        return data

    def condition(self) -> Condition:
        """The condition as typed: the stored one changed, or a new one."""
        row = self.instance.condition if self.instance.pk else Condition()
        row.kind = self.cleaned_data["kind"]
        row.happened_on = self.cleaned_data["event_on"]
        row.icd10 = self.cleaned_data["icd10"]
        return row


class NewPatientForm(PatientForm):
    class Meta(PatientForm.Meta):
        fields = ["given_name", "family_name", "born_on", "sex", "record_number", "phone"]

    def __init__(self, *args: Any, today: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.helper = plain_helper()
        self.helper.layout = Layout(Div(*self.Meta.fields, css_class="fields"))

    def clean_born_on(self) -> Any:
        born = self.cleaned_data["born_on"]
        if born > self.today:
            raise forms.ValidationError("The birth date lies in the future.")
        return born

    def validate_constraints(self) -> None:
        """Duplicates are the service's question: the same person may be referred again."""

    def patient(self, site: Any) -> Patient:
        row: Patient = self.save(commit=False)
        row.site = site
        return row


class ContactForm(forms.ModelForm):
    class Meta:
        model = ContactAttempt
        fields = ["outcome", "note", "next_try_on"]
        widgets = {"next_try_on": DayInput()}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class EligibilityForm(forms.Form):
    decision = forms.ChoiceField(
        choices=[NOTHING_CHOSEN, *EligibilityAnswer.Decision.choices], label="I confirm"
    )
    reason = forms.CharField(
        max_length=200, required=False, label="Reason, if otherwise than the rule"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class NotEnrollingForm(forms.Form):
    why_not = forms.ChoiceField(choices=[NOTHING_CHOSEN, *Referral.WhyNot.choices], label="Reason")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class EnrolForm(OnceForm):
    starts_on = DayField(label="First session on or after")
    slots = forms.ModelMultipleChoiceField(
        ClassSlot.objects.none(), label="Classes", widget=forms.CheckboxSelectMultiple
    )
    sessions = forms.IntegerField(min_value=1, max_value=72, initial=SESSIONS)

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = site.today()
        field: Any = self.fields["slots"]
        field.queryset = ClassSlot.objects.filter(site=site, is_open=True)

    def clean_starts_on(self) -> Any:
        day = self.cleaned_data["starts_on"]
        if day < self.today:
            raise forms.ValidationError("The first session cannot lie in the past.")
        return day


class PauseForm(forms.Form):
    from_on = DayField(label="Pause from")
    reason = forms.CharField(max_length=120)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class ResumeForm(forms.Form):
    back_on = DayField(label="Back on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class CloseForm(forms.Form):
    closed_on = DayField(label="Last day")
    outcome = forms.ChoiceField(
        choices=[NOTHING_CHOSEN, *Enrolment.Outcome.choices], label="Left because"
    )

    def __init__(self, *args: Any, today: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.helper = plain_helper()

    def clean_closed_on(self) -> Any:
        day = self.cleaned_data["closed_on"]
        if day > self.today:
            raise forms.ValidationError("The last day cannot lie in the future.")
        return day


class ListForm(forms.Form):
    file = forms.FileField(
        label="CSV file", widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv"})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].widget.attrs["data-max-bytes"] = MAX_BYTES
        self.helper = plain_helper()


class MappingForm(forms.Form):
    """Which column holds which field; first filled in by guessing."""

    date_order = forms.ChoiceField(
        choices=[
            ("", "not certain: refuse such dates"),
            (DAY_FIRST, "day first, 3/4 is 3 April"),
            (MONTH_FIRST, "month first, 3/4 is March 4"),
        ],
        required=False,
        label="Dates like 3/4/2026 are",
    )

    def __init__(self, *args: Any, headers: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", "—"), *[(str(i), h or f"column {i + 1}") for i, h in enumerate(headers)]]
        for name, (label, _) in columns.FIELDS.items():
            self.fields[f"column_{name}"] = forms.ChoiceField(
                choices=choices, required=False, label=label
            )
        self.helper = plain_helper()
        names = [f"column_{name}" for name in columns.FIELDS]
        self.helper.layout = Layout("date_order", Div(*names, css_class="fields"))

    def mapping(self) -> dict[str, int]:
        return {
            name: int(self.cleaned_data[f"column_{name}"])
            for name in columns.FIELDS
            if self.cleaned_data[f"column_{name}"] != ""
        }
