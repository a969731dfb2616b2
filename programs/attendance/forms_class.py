"""Small forms of a class: an absence, somebody added."""

from typing import Any

from django import forms

from patients.forms import (
    plain_helper,
)
from programs.attendance.models import Visit
from programs.enrolment.models import Enrolment


class AbsentForm(forms.Form):
    absence = forms.ChoiceField(choices=Visit.Absence.choices, label="Reason")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class AddToClassForm(forms.Form):
    """Somebody not planned today: a make-up session or an extra one."""

    enrolment = forms.ModelChoiceField(Enrolment.objects.none(), label="Who")

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
        field.label_from_instance = lambda e: f"{e.patient.family_name}, {e.patient.given_name}"
