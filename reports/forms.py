"""What a report is asked for."""

from collections.abc import Sequence
from typing import Any

from django import forms

from patients.forms import CrispyModelForm, DayField, plain_helper
from patients.models import Condition, Patient
from programs.enrolment.models import Referral
from programs.staff.models import Site
from reports.calc.completion import DEFINITIONS
from reports.calc.quality import AGE_BANDS
from reports.figures import DIMENSIONS, band_words
from reports.models import KeptQuestion, ProgramTargets

# What can be the main condition of a referral.
CONDITIONS = [c for c in Condition.Kind.choices if c[0] != Condition.Kind.DIABETES]


class ProgramFilter(forms.Form):
    """Whose figures, referred when, and what finished means; shows what the page was made with."""

    since = DayField(required=False, label="Referred from")
    until = DayField(required=False, label="to")
    site = forms.ChoiceField(required=False, label="Site")
    condition = forms.ChoiceField(
        choices=[("", "any condition"), *CONDITIONS], required=False, label="Condition"
    )
    source = forms.ChoiceField(
        choices=[("", "any source"), *Referral.Source.choices], required=False, label="Source"
    )
    payer = forms.ChoiceField(required=False, label="Payer")
    sex = forms.ChoiceField(
        choices=[("", "any sex"), *[c for c in Patient.Sex.choices if c[0]]],
        required=False,
        label="Sex",
    )
    age = forms.ChoiceField(required=False, label="Age")
    definition = forms.ChoiceField(
        choices=[(d.key, d.name) for d in DEFINITIONS], required=False, label="Finished means"
    )
    by = forms.ChoiceField(
        choices=[(key, name) for key, (name, _) in DIMENSIONS.items()],
        required=False,
        label="Compare by",
    )

    def __init__(self, sites: Sequence[Site], payers: Sequence[str]) -> None:
        super().__init__()
        self.helper = plain_helper()
        bands = [f"{low}-{high or ''}" for low, high in AGE_BANDS]
        choices: dict[str, list[Any]] = {
            "site": [("", "all my sites"), *[(one.pk, one.name) for one in sites]],
            "payer": [("", "any payer"), *[(name, name) for name in payers]],
            "age": [("", "any age"), *[(band, band_words(band)) for band in bands]],
        }
        for name, offered in choices.items():
            field: Any = self.fields[name]
            field.choices = offered

    def show(self, values: dict[str, Any]) -> None:
        """What the page was made with."""
        self.initial = values

    @property
    def narrowed(self) -> list[str]:
        """The filters in words, those that leave somebody out."""
        found = []
        for name in ("condition", "source", "payer", "sex", "age"):
            value = self.initial.get(name)
            field: Any = self.fields[name]
            if value:
                found.append(str(dict(field.choices)[value]))
        return found


class TargetsForm(CrispyModelForm):
    class Meta:
        model = ProgramTargets
        fields = ["got_in", "in_time", "stayed", "finished", "finished_by", "source"]


class KeepForm(forms.Form):
    """A name for the question of the page; its days are kept only if wanted."""

    name = forms.CharField(
        max_length=KeptQuestion._meta.get_field("name").max_length,
        error_messages={"required": "Give the question a name."},
    )
    with_days = forms.BooleanField(
        required=False, label="with these days, not the last twelve months"
    )
    question = forms.CharField(required=False, max_length=2000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.auto_id = "keep_%s"
        self.helper = plain_helper()

    def clean_name(self) -> str:
        return " ".join(self.cleaned_data["name"].split())
