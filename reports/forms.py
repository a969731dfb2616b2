"""What a report is asked for."""

from datetime import date
from typing import Any

from django import forms

from patients.forms import DayField, plain_helper
from programs.staff.models import Site
from reports.calc.completion import DEFINITIONS, Definition


class ProgramFilter(forms.Form):
    """Whose courses, begun when, and what completed means; shows what the page was made with."""

    definition = forms.ChoiceField(
        choices=[(d.key, d.name) for d in DEFINITIONS], required=False, label="Completed means"
    )
    site = forms.ChoiceField(required=False, label="Site")
    since = DayField(required=False, label="Began from")
    until = DayField(required=False, label="to")

    def __init__(
        self,
        sites: list[Site],
        *,
        definition: Definition,
        site: Site | None,
        since: date,
        until: date,
    ) -> None:
        shown = {"definition": definition.key, "since": since, "until": until}
        super().__init__(initial=shown | {"site": site.pk if site else ""})
        self.helper = plain_helper()
        field: Any = self.fields["site"]
        field.choices = [("", "all my sites"), *[(one.pk, one.name) for one in sites]]
