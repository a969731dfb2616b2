"""How a site assesses, and its targets."""

from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms

from assessments.calc.six_minute_walk import COURSE_M
from assessments.calc.targets import Target
from assessments.calc.timing import INFORMAL_CHOICES
from assessments.forms_schedule import carers
from patients.forms import NumberField, OnceForm
from programs.staff.models import User


class PolicyForm(OnceForm):
    informal_every_days = forms.TypedChoiceField(
        choices=[(days, f"{days} days") for days in INFORMAL_CHOICES],
        coerce=int,
        label="A progress check every",
        help_text="Holds for what comes due from today on.",
    )
    longest_course_m = NumberField(
        COURSE_M,
        label="Longest walking course",
        help_text="A longer one typed at a test is asked about.",
    )
    concern_owner = forms.ModelChoiceField(
        User.objects.none(),
        required=False,
        label="A concern goes to",
        empty_label="whoever the course is assigned to",
        help_text="Such as an answer above zero to PHQ-9 item 9.",
    )
    reason = forms.CharField(max_length=200, label="Reason")

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["concern_owner"]
        field.queryset = carers(site)
        numbers = ["informal_every_days", "longest_course_m"]
        self.helper.layout = Layout(
            "submission_key",
            "seen_version",
            Div(*numbers, css_class="fields"),
            "concern_owner",
            "reason",
        )


class TargetForm(OnceForm):
    reason = forms.CharField(max_length=200, label="Reason")

    def __init__(self, *args: Any, target: Target, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        label = f"{target.name} {target.side.value}"
        self.fields["amount"] = NumberField(target.bounds, required=True, label=label)
        self.helper.layout = Layout("submission_key", "seen_version", "amount", "reason")
