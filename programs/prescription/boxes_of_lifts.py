"""A box of lifts, one a line, shown and read in somebody's own unit."""

from collections.abc import Sequence

from django import forms
from django.core.exceptions import ValidationError

from patients.calc.measuring import STORED, Units
from programs.prescription.calc.lifts import Lift, NotALift, line_of, read_lines


def box_of(form: forms.Form) -> "LiftsField":
    """The box of a form, to be filled."""
    box = form.fields["lifts"]
    assert isinstance(box, LiftsField)
    return box


class LiftsField(forms.CharField):
    """Lifts as lines of text; its value is a tuple of ``Lift``."""

    def __init__(self) -> None:
        super().__init__(
            required=False,
            max_length=2000,
            label="Exercises",
            help_text="one a line: Leg press 12 × 40 kg",
            widget=forms.Textarea(attrs={"rows": 3}),
        )
        self.shown: tuple[Lift, ...] = ()
        self.units = STORED

    def fill(self, lifts: Sequence[Lift], units: Units) -> None:
        """What the box is first shown with, and in which unit."""
        self.shown, self.units = tuple(lifts), units
        self.initial = "\n".join(line_of(lift, units) for lift in lifts)
        self.widget.attrs["rows"] = max(3, len(lifts) + 1)
        self.help_text = f"one a line: Leg press 12 × {units.weight.told(40)}"

    def clean(self, value: str) -> tuple[Lift, ...]:
        text = super().clean(value)
        try:
            return read_lines(text, self.shown, self.units)
        except NotALift as error:
            raise ValidationError(str(error)) from None
