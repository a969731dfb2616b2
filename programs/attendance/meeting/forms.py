"""Forms of a class: an absence, somebody added, opening and closing it."""

from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms

from patients.forms import plain_helper
from programs.attendance.models import ClassMeeting, Visit
from programs.enrolment.models import Enrolment
from programs.staff.models import Site, User
from programs.staff.roles import Role


class AddToClassForm(forms.Form):
    """Somebody not planned today: a make-up session or an extra one."""

    enrolment = forms.ModelChoiceField(Enrolment.objects.none(), label="Who")
    approval = forms.CharField(
        max_length=Enrolment._meta.get_field("extension_reason").max_length,
        required=False,
        label="Payer’s approval, if beyond 36",
        help_text="Who approved, and when. Empty for a session inside the course.",
    )

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        field: Any = self.fields["enrolment"]
        field.queryset = (
            Enrolment.objects.still_open()
            .filter(patient__site=site)
            .select_related("patient")
            .order_by("patient__family_name")
        )
        field.label_from_instance = lambda e: (
            f"{e.patient.family_name}, {e.patient.given_name}".strip(", ")
        )


class AbsencesForm(forms.Form):
    """Why each person still expected did not come."""

    def __init__(self, *args: Any, rows: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.keys = {f"absence-{row.planned.pk}": row.planned.pk for row in rows}
        for row in rows:
            self.fields[f"absence-{row.planned.pk}"] = forms.ChoiceField(
                choices=Visit.Absence.choices,
                initial=Visit.Absence.UNKNOWN,
                required=False,
                label=row.planned.name,
            )
        self.helper = plain_helper()
        self.helper.layout = Layout(Div(*self.keys, css_class="items near"))

    def reasons(self) -> dict[int, str]:
        """Planned session and reason, of those that say one."""
        given = {key: self.cleaned_data.get(name) for name, key in self.keys.items()}
        return {key: reason for key, reason in given.items() if reason}


ON_THE_FLOOR = [Role.FLOOR, Role.CLINICIAN, Role.PHYSICIAN]


class OpenClassForm(forms.Form):
    """Who runs a class and who supervises it; what is missing is asked about."""

    staff = forms.ModelMultipleChoiceField(
        User.objects.none(), required=False, widget=forms.CheckboxSelectMultiple, label="Staff"
    )
    supervisor = forms.ModelChoiceField(
        User.objects.none(),
        required=False,
        empty_label="nobody named",
        label="Supervising physician or practitioner",
    )
    presence = forms.ChoiceField(
        choices=[("", "not recorded"), *ClassMeeting.Presence.choices],
        required=False,
        label="Availability",
    )
    exception = forms.CharField(max_length=200, required=False, label="Open with exception: reason")

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        people = User.objects.filter(sites=site, is_active=True).order_by("last_name")
        staff: Any = self.fields["staff"]
        supervisor: Any = self.fields["supervisor"]
        staff.queryset = people.filter(role__in=ON_THE_FLOOR)
        supervisor.queryset = people.filter(role__in=[Role.PHYSICIAN, Role.CLINICIAN])
        self.helper.layout = Layout("staff", "supervisor", "presence", "exception")
