"""Forms of a site's limits of doses and of its machines."""

from typing import Any

from crispy_forms.layout import Layout

from patients.forms import CrispyModelForm
from programs.prescription.calc.machines import BY_SPEED
from programs.prescription.models import DosePolicy, SiteMachine


class DosePolicyForm(CrispyModelForm):
    class Meta:
        model = DosePolicy
        fields = [
            "unsigned_goes_on", "highest_bpm", "highest_rpe", "highest_percent", "highest_mets",
            "icd_margin_bpm", "most_minutes", "source",
        ]  # fmt: skip
        help_texts = {
            "highest_bpm": "Empty sets none.",
            "highest_mets": "Empty sets none.",
            "icd_margin_bpm": "10 to 15 are in use (from memory).",
        }


class MachineForm(CrispyModelForm):
    """Only what this kind of machine can be set to."""

    class Meta:
        model = SiteMachine
        fields = [
            "is_in_use", "is_mph", "least", "most", "step", "grade_step", "most_grade", "height_cm",
        ]  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kind = self.instance.kind
        unit = self.instance.machine.unit
        if kind not in BY_SPEED:
            del self.fields["is_mph"]
            for name in ("least", "most", "step"):
                self.fields[name].label = f"{self.fields[name].label}, {unit}".capitalize()
        if kind != "treadmill":
            del self.fields["grade_step"], self.fields["most_grade"]
        if kind != "stepper":
            del self.fields["height_cm"]
        self.helper.layout = Layout(*self.fields)
