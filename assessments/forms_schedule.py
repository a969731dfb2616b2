"""Booking assessments, one or many, and saying why one was not obtained."""

from typing import Any

from crispy_forms.layout import Layout
from django import forms

from assessments.models import Assessment
from patients.forms import DayField, OnceForm, plain_helper
from programs.staff.models import Role, User


def clinicians(site: Any) -> Any:
    """Who assesses at a site."""
    here = User.objects.filter(sites=site, is_active=True, role=Role.CLINICIAN)
    return here.order_by("last_name", "first_name")


def carers(site: Any) -> Any:
    """Who may answer for a concern at a site."""
    roles = [Role.CLINICIAN, Role.PHYSICIAN]
    here = User.objects.filter(sites=site, is_active=True, role__in=roles)
    return here.order_by("last_name", "first_name")


class PlanForm(forms.Form):
    planned_on = DayField(label="Book for", required=False)
    with_whom = forms.ModelChoiceField(
        User.objects.none(), label="With", required=False, empty_label="whoever it is assigned to"
    )

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        field: Any = self.fields["with_whom"]
        field.queryset = clinicians(site)

    @classmethod
    def of(cls, assessment: Assessment) -> "PlanForm":
        """The form as it stands for an assessment not yet performed."""
        initial = {"planned_on": assessment.planned_on, "with_whom": assessment.booked_with_id}
        return cls(initial=initial, site=assessment.enrolment.patient.site, auto_id=False)


class AheadForm(forms.Form):
    """How far ahead to look."""

    ahead = forms.TypedChoiceField(
        choices=[(7, "a week"), (14, "two weeks"), (28, "four weeks"), (84, "twelve weeks")],
        coerce=int,
        required=False,
        label="Coming due within",
    )

    def __init__(self, days: int) -> None:
        super().__init__(initial={"ahead": days})
        self.helper = plain_helper()


def day_name(line: Any) -> str:
    return f"on-{line.key}"


class BookManyForm(OnceForm):
    """Shared by the lines of a bulk booking; the lines themselves are read beside it."""

    with_whom = forms.ModelChoiceField(
        User.objects.none(), label="With", required=False, empty_label="whoever each is assigned to"
    )

    def __init__(self, *args: Any, site: Any, lines: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["with_whom"]
        field.queryset = clinicians(site)
        for line in lines:
            self.fields[day_name(line)] = DayField(required=False)
            self.initial[day_name(line)] = line.proposed_on
        self.lines = lines
        self.helper.layout = Layout("submission_key", "with_whom")
        self.helper.form_show_errors = False  # the page shows them above its table

    def box(self, line: Any) -> forms.BoundField:
        """The day of a line, as it was typed where it was ticked."""
        self.fields[day_name(line)].widget.attrs["aria-label"] = f"Day for {line.enrolment.patient}"
        return self[day_name(line)]

    def clean(self) -> dict[str, Any]:
        """The day of a line that is not ticked is nobody's business."""
        data = super().clean() or self.cleaned_data
        for line in self.lines:
            if line.key not in self.data.getlist("take"):  # type: ignore[attr-defined]
                self.errors.pop(day_name(line), None)
        return data
