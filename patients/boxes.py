"""Boxes every room uses: numbers with limits, numbers in two units, blood pressure, yes or no."""

import re
from typing import Any

from django import forms

from patients.calc.limits import Limit, NotScorable, OutOfRange, check_pressure
from patients.calc.measuring import QUANTITY_OF, NotRead, read

PLAIN_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+|nan|inf)")


class NumberField(forms.FloatField):
    """A measured number: refuses the impossible and knows the unusual.

    Accepts a decimal comma. Whole-number quantities refuse a fraction instead of rounding it.
    The unit stands behind the box, unless the label names it already.
    """

    def __init__(
        self, limit: Limit, *, whole: bool = False, names_unit: bool = False, **kwargs: Any
    ) -> None:
        self.limit, self.whole, self.names_unit = limit, whole, names_unit
        kwargs.setdefault("label", limit.name)
        kwargs.setdefault("required", False)
        attrs = {"inputmode": "numeric" if whole else "decimal", "autocomplete": "off"}
        kwargs.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(**kwargs)
        self.unit = limit.unit

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str):
            value = value.strip().replace(",", ".")
        if value in self.empty_values:
            return None
        try:
            if isinstance(value, str) and not PLAIN_NUMBER.fullmatch(value.lower()):
                raise ValueError(value)  # 1_2 and 1e2 are numbers to Python, not to a nurse
            number = float(value)
        except (TypeError, ValueError) as error:
            raise forms.ValidationError(
                f"{self.limit.name}: {str(value)[:20]!r} is not a number; "
                f"give {self.limit.low:g} to {self.limit.high:g} {self.unit}."
            ) from error
        if self.whole and number == number and number not in (float("inf"), float("-inf")):
            if number != int(number):
                raise forms.ValidationError(
                    f"{self.limit.name}: {value} has a fraction; give a whole number."
                )
            number = int(number)
        return number

    def validate(self, value: Any) -> None:
        super(forms.FloatField, self).validate(value)
        if value is not None:
            try:
                self.limit.check(value)
            except OutOfRange as error:
                raise forms.ValidationError(str(error)) from error

    def shown(self, value: float) -> str:
        """The number with its unit, as a question about it names it."""
        return f"{value:g} {self.unit}".strip()


class UnitField(NumberField):
    """A number typed in one of two units and stored in the first; its limit says which quantity.

    The box is read in the unit it is shown in, and a unit typed behind the number wins over it. A
    number that fits only in the other unit is refused with a word about it.
    """

    def __init__(self, limit: Limit, **kwargs: Any) -> None:
        super().__init__(limit, **kwargs)
        self.quantity = QUANTITY_OF[limit]
        self.stored: float | None = None
        self.words = self.label
        self.use(self.quantity.first.name)

    def use(self, name: str) -> None:
        """Show and read in this unit from now on; an unknown name is the stored unit."""
        self.chosen = self.typed_in = self.quantity.unit(name)
        self.unit = self.chosen.name
        if self.names_unit:
            self.label = f"{self.words} {self.unit}".strip()
        # By these the browser brings back what was typed before the unit was changed.
        zero = self.chosen.to_stored(0)
        self.widget.attrs |= {
            "data-unit": self.unit,
            "data-per": self.chosen.to_stored(1) - zero,
            "data-zero": zero,
            "data-low": self.limit.low,
            "data-high": self.limit.high,
        }
        if self.chosen.is_feet:  # a number alone is inches; a number pad has no marks
            self.widget.attrs |= {"inputmode": "text", "data-word": "in"}

    def keep(self, stored: Any) -> None:
        """What stands in the box when it is shown: untouched it stays to the last decimal."""
        self.stored = float(stored) if isinstance(stored, int | float) else None

    def to_python(self, value: Any) -> Any:
        self.typed_in = self.chosen
        if not isinstance(value, str) or not value.strip():
            return None if isinstance(value, str) else super().to_python(value)
        if self.stored is not None and value.strip() == self.chosen.text(self.stored):
            return self.stored
        try:
            self.typed = read(self.quantity, value, self.chosen)
        except NotRead as error:
            first, second = self.quantity.first, self.quantity.second
            other = second if self.chosen is first else first
            raise forms.ValidationError(
                f"{self.limit.name}: {value[:20]!r} is not a number; give "
                f"{self.chosen.text(self.limit.low)} to {self.chosen.told(self.limit.high)}, or a "
                f"number with {other} behind it."
            ) from error
        self.typed_in = self.typed.unit
        return self.typed.stored

    def prepare_value(self, value: Any) -> Any:
        return self.chosen.text(value) if isinstance(value, int | float) else value

    def validate(self, value: Any) -> None:
        if value is None or value == self.stored or self._fits(value):
            super(NumberField, self).validate(value)
            return
        typed, unit = self.typed.number, self.typed_in
        told = "" if unit is self.quantity.first else f" ({self.quantity.first.told(value)})"
        words = (
            f"{self.limit.name} {unit.told(value)}{told} is outside {self.limit.low:g} to "
            f"{self.limit.high:g} {self.limit.unit}."
        )
        if not self.typed.is_told:
            for other in (self.quantity.first, self.quantity.second):
                if other is not unit and self._fits(other.to_stored(typed)):
                    name, word = ("inches", "in") if other.is_feet else (other, other)
                    words += f" Is {typed:g} in {name}? Then write {typed:g} {word}."
        raise forms.ValidationError(words)

    def _fits(self, value: float) -> bool:
        return self.limit.low <= value <= self.limit.high

    def shown(self, value: float) -> str:
        return self.typed_in.told(value)


class PressureField(forms.CharField):
    """Blood pressure typed as 128/74; gives a pair or (None, None)."""

    def __init__(self, *, names_unit: bool = False, **kwargs: Any) -> None:
        attrs = {"inputmode": "text", "autocomplete": "off", "placeholder": "128/74"}
        kwargs.setdefault("label", "Blood pressure")
        kwargs.setdefault("required", False)
        kwargs.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(**kwargs)
        self.unit, self.names_unit = "mmHg", names_unit

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return (None, None)
        match = re.fullmatch(r"(\d{2,3})\s*[/\- ]\s*(\d{2,3})", text)
        if not match:
            raise forms.ValidationError(
                f"Blood pressure: {text[:20]!r} should be two numbers such as 128/74."
            )
        pair = (int(match[1]), int(match[2]))
        try:
            check_pressure(*pair)
        except (OutOfRange, NotScorable) as error:
            raise forms.ValidationError(str(error)) from error
        return pair


class YesNoField(forms.TypedChoiceField):
    """Yes, no, or not answered yet; the last is None and never counts as no."""

    def __init__(self, *, unanswered: str = "not asked", **kwargs: Any) -> None:
        kwargs.setdefault("required", False)
        super().__init__(
            choices=[("", unanswered), ("yes", "yes"), ("no", "no")],
            coerce=lambda answer: answer == "yes",
            empty_value=None,
            **kwargs,
        )

    def prepare_value(self, value: Any) -> Any:
        return {True: "yes", False: "no", None: ""}.get(value, value)


def as_typed(value: Any) -> Any:
    """118.0 as 118, so that a form shows a stored number as it was typed."""
    return int(value) if isinstance(value, float) and value == int(value) else value
