"""The box of a QRS duration."""

from typing import Any

from django import forms

from patients.calc.limits import QRS_MS
from patients.forms import NumberField
from programs.attendance.calc.qrs import NotAQrs, read_qrs_ms


class QrsField(NumberField):
    """Milliseconds, or seconds as on the paper; stored in whole milliseconds."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(QRS_MS, whole=True, **kwargs)
        self.widget.attrs["inputmode"] = "decimal"

    def to_python(self, value: Any) -> Any:
        if not isinstance(value, str) or not value.strip():
            return super().to_python(value)
        try:
            return super().to_python(read_qrs_ms(value))
        except NotAQrs as error:
            raise forms.ValidationError(str(error)) from error
