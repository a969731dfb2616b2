"""Forms of treating a low glucose: what was given, and the recheck."""

from typing import Any

from crispy_forms.layout import Layout
from django import forms

from patients.calc.limits import CARBOHYDRATE_G, GLUCOSE_MGDL
from patients.calc.measuring import MMOL_L, STORED, Units
from patients.forms import (
    InUnits,
    NumberField,
    OnceForm,
    UnitField,
    YesNoField,
)
from programs.attendance.calc.quantities import Glucose


class CarbohydrateForm(OnceForm):
    grams = NumberField(CARBOHYDRATE_G, whole=True, required=True, label="Given")
    what = forms.CharField(max_length=60, required=False, label="What")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.layout = Layout("submission_key", "seen_version", "grams", "what")


class RecheckForm(InUnits, OnceForm):
    recheck_mgdl = UnitField(GLUCOSE_MGDL, label="Glucose now")
    needed_help = YesNoField(label="Needed assistance?", unanswered="not noted")

    def __init__(self, *args: Any, units: Units = STORED, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = self.choose_units(units)
        self.helper.layout = Layout(
            "submission_key", "seen_version", *names, "recheck_mgdl", "needed_help"
        )

    @property
    def glucose_field(self) -> UnitField:
        field: Any = self.fields["recheck_mgdl"]
        return field

    def clean(self) -> dict[str, Any]:
        """No meter is needed to say that somebody had to help."""
        data = super().clean() or self.cleaned_data
        has_value = data.get("recheck_mgdl") is not None or "recheck_mgdl" in self.errors
        if not has_value and not data.get("needed_help"):
            self.add_error("recheck_mgdl", "What does the meter show? Or was assistance needed?")
        return data

    def glucose(self) -> Glucose | None:
        value = self.cleaned_data["recheck_mgdl"]
        if value is None:
            return None
        return Glucose(value, is_mmoll=self.glucose_field.typed_in is MMOL_L)
