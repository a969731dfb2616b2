"""Forms of the work on a referral: contact, papers, eligibility, waiting list, closing."""

from typing import Any

from crispy_forms.layout import Div, Field, Layout
from django import forms
from django.utils import timezone

from patients.boxes_of_time import MomentField
from patients.forms import NOTHING_CHOSEN, DayField, OnceForm, plain_helper
from programs.enrolment.calc.calendar import SESSIONS
from programs.enrolment.models import ContactAttempt, EligibilityAnswer, Referral
from programs.enrolment.models.timetable import Weekday
from programs.enrolment.seats.forms import ClassesField, offer_classes
from programs.staff.models import User


class PlainForm(forms.Form):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class ContactForm(forms.ModelForm):
    class Meta:
        model = ContactAttempt
        fields = ["how", "outcome", "note", "next_try_on", "at"]
        field_classes = {"next_try_on": DayField, "at": MomentField}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        self.fields["at"].required = False
        self.fields["at"].label = "Time (now if empty)"
        self.initial["at"] = None

    def clean_at(self) -> Any:
        return self.cleaned_data["at"] or timezone.now()


class EligibilityForm(PlainForm):
    decision = forms.ChoiceField(
        choices=[NOTHING_CHOSEN, *EligibilityAnswer.Decision.choices], label="My decision"
    )
    reason = forms.CharField(
        max_length=200, required=False, label="Reason, if otherwise than the rule"
    )


class NotEnrollingForm(PlainForm):
    why_not = forms.ChoiceField(choices=[NOTHING_CHOSEN, *Referral.WhyNot.choices], label="Reason")
    note = forms.CharField(max_length=200, required=False, label="Comments")


class AskForm(PlainForm):
    """Of whom the papers that are ticked are asked."""

    of = forms.CharField(
        max_length=120,
        required=False,
        label="Requested from",
        widget=forms.TextInput(
            attrs={"placeholder": "Requested from: ward, surgeon, family doctor"}
        ),
    )


class WaitingForm(PlainForm):
    per_week = forms.TypedChoiceField(
        choices=[(2, "two"), (3, "three"), (1, "one"), (4, "four")],
        coerce=int,
        initial=3,
        label="Sessions a week",
    )
    weekdays = forms.MultipleChoiceField(
        choices=Weekday.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple(),
        label="Days that suit; none means any",
    )

    def clean_weekdays(self) -> str:
        return "".join(sorted(self.cleaned_data["weekdays"]))


class OwnerForm(PlainForm):
    owner = forms.ModelChoiceField(
        User.objects.none(), required=False, label="Assigned to", empty_label="Unassigned"
    )

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["owner"]
        field.queryset = User.objects.filter(
            sites=site, is_active=True, role__in=["clinician", "manager", "floor"]
        ).order_by("last_name", "first_name")


class EnrolForm(OnceForm):
    starts_on = DayField(label="First session on or after")
    slots = ClassesField()
    sessions = forms.IntegerField(min_value=1, max_value=72, initial=SESSIONS)
    extension_reason = forms.CharField(
        required=False,
        max_length=120,
        label="More than 36: who approved",
        help_text="The payer’s approval; empty for a usual course.",
    )

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = site.today()
        offer_classes(self, site)
        first = Div("starts_on", "sessions", "extension_reason", css_class="fields")
        self.helper.layout = Layout("submission_key", first, Field("slots", wrapper_class="slots"))
        self.helper.form_show_errors = False  # the page shows them above the starts on offer

    def clean_starts_on(self) -> Any:
        day = self.cleaned_data["starts_on"]
        if day < self.today:
            raise forms.ValidationError("The first session cannot lie in the past.")
        return day
