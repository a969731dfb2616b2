"""Forms of a hospital's list: the file, and which column holds what."""

import hashlib
import uuid
from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms

from patients.forms import OnceForm, plain_helper
from patients.submissions import key_of
from programs.enrolment.calc import columns
from programs.enrolment.calc.file_text import MAX_BYTES
from programs.enrolment.calc.referral_cells import DAY_FIRST, MONTH_FIRST


class ListForm(OnceForm):
    file = forms.FileField(
        label="CSV file", widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv"})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].widget.attrs["data-max-bytes"] = MAX_BYTES
        self.helper.layout = Layout("submission_key", "file")

    @property
    def key(self) -> uuid.UUID | None:
        """The file chosen is what is typed here."""
        file = self.cleaned_data["file"]
        file.seek(0)
        digest = hashlib.sha256(file.read()).hexdigest()
        file.seek(0)
        return key_of(self.cleaned_data.get("submission_key"), {"name": file.name, "file": digest})


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
