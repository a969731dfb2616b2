"""The referral as a form: the person, the conditions, what the payer's rule asks."""

from typing import Any, ClassVar

from crispy_forms.layout import HTML, Div, Layout
from django import forms
from django.db.models import Q

from patients.calc.days import in_words
from patients.calc.limits import LVEF_PERCENT, OutOfRange
from patients.forms import (
    NOTHING_CHOSEN,
    Asked,
    AsksTwiceForm,
    DayField,
    plain_helper,
    stored_and_here,
)
from patients.forms_person import AsksAgeForm, PatientForm
from patients.models import Condition, Patient
from programs.enrolment.calc.referral_cells import ICD10_SHAPE, family_of, is_lvef_range, read_lvef
from programs.enrolment.models import Payer, Referral
from programs.enrolment.referrals.identity import ANOTHER, SAME

CLINICAL = [
    "is_angina_stable",
    "lvef",
    "nyha_class",
    "hf_therapy_since",
    "has_had_cv_stay",
    "last_cv_stay_on",
    "is_procedure_planned",
    "planned_procedure",
    "planned_procedure_on",
]
FURTHER = 2  # empty rows for further conditions
LONG_STAY_DAYS = 60
FAR_DISCHARGE_DAYS = 21  # a planned discharge further off is asked about


class LvefField(forms.CharField):
    """LVEF in per cent, or the range as reported: (number, "") or (None, "35-40")."""

    unit = "%"

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None, ""
        if is_lvef_range(text):
            return None, text
        try:
            return read_lvef(text), ""
        except (OutOfRange, ValueError) as error:
            raise forms.ValidationError(f"{error}") from error


class Icd10Field(forms.CharField):
    """An ICD-10-CM code, brought into its usual shape."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(label="ICD-10-CM code", max_length=10, required=False, **kwargs)

    def clean(self, value: Any) -> str:
        code = super().clean(value).upper().replace(" ", "")
        if code and "." not in code and len(code) > 3:
            code = f"{code[:3]}.{code[3:]}"
        if code and not ICD10_SHAPE.fullmatch(code):
            raise forms.ValidationError(f"{code} does not have the shape of a code such as I21.4.")
        return code


class ReferralForm(AsksTwiceForm, forms.ModelForm):
    """A referral with its main condition and up to a few further ones."""

    kind = forms.ChoiceField(choices=[NOTHING_CHOSEN, *Condition.of_the_heart()], label="Condition")
    event_on = DayField(label="Event date", required=False)
    icd10 = Icd10Field()
    lvef = LvefField(label="LVEF", required=False, help_text="One number, or the range reported.")

    class Meta:
        model = Referral
        fields = ["source", "payer", "referred_on", "admitted_on", "discharged_on", "referrer"]
        fields += [name for name in CLINICAL if name != "lvef"]
        fields += ["note"]
        dates = ["referred_on", "admitted_on", "discharged_on", "hf_therapy_since"]
        dates += ["last_cv_stay_on", "planned_procedure_on"]
        field_classes: ClassVar[dict[str, Any]] = dict.fromkeys(dates, DayField)
        widgets: ClassVar[dict[str, Any]] = {
            "note": forms.Textarea(attrs={"rows": 2}),
            "is_angina_stable": forms.NullBooleanSelect(),
            "is_procedure_planned": forms.NullBooleanSelect(),
            "has_had_cv_stay": forms.NullBooleanSelect(),
        }

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site, self.today = site, site.today()
        payer: Any = self.fields["payer"]
        here = Q(site=site, is_active=True)
        payer.queryset = Payer.objects.filter(here | Q(pk=self.instance.payer_id))
        payer.empty_label = "not known yet"
        self.fields["source"].choices = [("", "not known yet"), *Referral.Source.choices]  # type: ignore[attr-defined]
        self.others: list[Condition] = list(self.instance.others.all()) if self.instance.pk else []
        self._add_further()
        if self.instance.pk:
            self._fill_in()
        self.helper.layout = self._layout()

    def _add_further(self) -> None:
        choices = [("", "none"), *Condition.of_the_heart()]
        for n in range(max(FURTHER, len(self.others) + 1)):
            self.fields[f"kind_{n}"] = forms.ChoiceField(
                choices=choices, required=False, label="Further condition"
            )
            self.fields[f"event_on_{n}"] = DayField(label="Event date", required=False)
            self.fields[f"icd10_{n}"] = Icd10Field()

    @property
    def n_further(self) -> int:
        return sum(name.startswith("kind_") for name in self.fields)

    def _fill_in(self) -> None:
        main, row = self.instance.condition, self.instance
        self.initial["kind"], self.initial["icd10"] = main.kind, main.icd10
        self.initial["event_on"] = main.happened_on
        self.initial["lvef"] = row.lvef_reported or (
            "" if row.lvef_percent is None else f"{row.lvef_percent:g}"
        )
        for n, other in enumerate(self.others):
            self.initial[f"kind_{n}"] = other.kind
            self.initial[f"event_on_{n}"] = other.happened_on
            self.initial[f"icd10_{n}"] = other.icd10

    def _has_further(self) -> bool:
        typed = [self.data.get(name) for name in self._further("kind")] if self.is_bound else []
        return bool(self.others) or any(typed)

    def _layout(self) -> Layout:
        further = [
            Div(f"kind_{n}", f"event_on_{n}", f"icd10_{n}", css_class="fields")
            for n in range(self.n_further)
        ]
        return Layout(
            "submission_key",
            "seen_version",
            "confirmed",
            Div("kind", "event_on", "icd10", css_class="fields"),
            HTML(f"<details{' open' if self._has_further() else ''}>"),
            HTML("<summary class='small'>Further qualifying conditions</summary>"),
            *further,
            HTML("</details>"),
            Div("referred_on", "admitted_on", "discharged_on", css_class="fields"),
            Div("source", "referrer", "payer", css_class="fields"),
            HTML("<h3>For angina and heart failure</h3>"),
            Div(*CLINICAL, css_class="fields"),
            "note",
        )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for name in ["event_on", "referred_on", *self._further("event_on")]:
            if data.get(name) and data[name] > self.today:
                self.add_error(name, "This date lies in the future.")
        event, discharged = data.get("event_on"), data.get("discharged_on")
        if event and discharged and discharged < event:
            self.add_error("discharged_on", "Discharge lies before the event.")
        for n in range(self.n_further):
            if not data.get(f"kind_{n}") and (data.get(f"event_on_{n}") or data.get(f"icd10_{n}")):
                self.add_error(f"kind_{n}", "Which condition is this the date or code of?")
        self.instance.lvef_percent, self.instance.lvef_reported = data.get("lvef") or (None, "")
        return data

    def _further(self, name: str) -> list[str]:
        return [f"{name}_{n}" for n in range(self.n_further)]

    def unusual(self) -> list[str]:
        """What may be right and is worth a second look."""
        data, asks = self.cleaned_data, super().unusual()
        for kind_name, code_name in [("kind", "icd10"), *self._pairs()]:
            kind, code = data.get(kind_name), data.get(code_name)
            if not code or not kind:
                continue
            family = family_of(code)
            if not family:
                asks.append(Asked(code_name, f"code {code} is in no family this program knows"))
            elif family != kind and kind != Condition.Kind.UNCLEAR:
                asks.append(
                    Asked(code_name, f"code {code} stands for {Condition.Kind(family).label}")
                )
        number, _ = data.get("lvef") or (None, "")
        if number is not None and LVEF_PERCENT.is_unusual(number):
            asks.append(Asked("lvef", f"LVEF {number:g} %"))
        admitted, out = data.get("admitted_on"), data.get("discharged_on")
        if out and (out - self.today).days > FAR_DISCHARGE_DAYS:
            asks.append(Asked("discharged_on", f"discharge planned for {in_words(out)}"))
        if admitted and out and (out - admitted).days > LONG_STAY_DAYS:
            asks.append(Asked("discharged_on", f"a stay of {(out - admitted).days} days"))
        return asks

    def _pairs(self) -> list[tuple[str, str]]:
        return list(zip(self._further("kind"), self._further("icd10"), strict=True))

    def condition(self) -> Condition:
        """The main condition as typed: the stored one changed, or a new one."""
        row = self.instance.condition if self.instance.pk else Condition()
        return self._filled(row, "")

    def further_conditions(self) -> list[Condition]:
        """The further conditions as typed; those emptied are left out."""
        found = []
        for n in range(self.n_further):
            if self.cleaned_data.get(f"kind_{n}"):
                row = self.others[n] if n < len(self.others) else Condition()
                found.append(self._filled(row, f"_{n}"))
        return found

    def _filled(self, row: Condition, ending: str) -> Condition:
        row.kind = self.cleaned_data[f"kind{ending}"]
        row.happened_on = self.cleaned_data[f"event_on{ending}"]
        row.icd10 = self.cleaned_data[f"icd10{ending}"]
        return row

    def against(self, stored: Referral) -> list[str]:
        """What somebody else stored meanwhile, field by field, beside what is typed here."""
        number, reported = self.cleaned_data.get("lvef") or (None, "")
        main = stored.condition
        compared = [
            *[
                (self.fields[name].label, self.cleaned_data.get(name), getattr(stored, name))
                for name in self.Meta.fields
            ],
            ("LVEF", reported or number, stored.lvef_reported or stored.lvef_percent),
            ("Condition", self.cleaned_data.get("kind"), main.kind),
            ("Event date", self.cleaned_data.get("event_on"), main.happened_on),
            ("ICD-10-CM code", self.cleaned_data.get("icd10"), main.icd10),
            (
                "Further conditions",
                [(c.kind, c.happened_on) for c in self.further_conditions()],
                [(c.kind, c.happened_on) for c in stored.others.all()],
            ),
        ]
        return stored_and_here(compared)


class NewPatientForm(AsksAgeForm, PatientForm):
    one_or_two = forms.ChoiceField(
        choices=[
            (SAME, "the same person; add this referral to the record"),
            (ANOTHER, "another person of the same name and date of birth"),
        ],
        widget=forms.RadioSelect(),
        required=False,
        label="One person or two?",
    )

    class Meta(PatientForm.Meta):
        fields = ["given_name", "family_name", "born_on", "sex", "record_number", "phone"]

    def __init__(self, *args: Any, today: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.helper = plain_helper()
        self.helper.layout = Layout("age_confirmed", Div(*self.Meta.fields, css_class="fields"))

    def ask_one_or_two(self) -> None:
        """Show the question; only a clash of names does."""
        self.helper.layout.append("one_or_two")

    def clean_born_on(self) -> Any:
        born = self.cleaned_data["born_on"]
        if born > self.today:
            raise forms.ValidationError("The date of birth lies in the future.")
        return born

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("born_on"):
            self.ask_age(data["born_on"], self.today)
        return data

    def validate_constraints(self) -> None:
        """Duplicates are the service's question: the same person may be referred again."""

    def patient(self, site: Any) -> Patient:
        row: Patient = self.save(commit=False)
        row.site = site
        return row
