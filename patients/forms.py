"""Form pieces every room uses: numbers with limits, blood pressure, a form that asks twice."""

import re
import uuid
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Layout
from django import forms

from patients.calc.limits import (
    DIASTOLIC_MMHG,
    SYSTOLIC_MMHG,
    Limit,
    NotScorable,
    OutOfRange,
    check_pressure,
)
from patients.calc.units import glucose_mgdl, glucose_mmoll, kg_from_lb, lb_from_kg
from patients.submissions import key_of, new_key

NOTHING_CHOSEN = ("", "choose")  # a list never answers for somebody
PLAIN_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+|nan|inf)")


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


class DayField(forms.DateField):
    """A calendar day, with the browser's own picker."""

    widget = DayInput


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


@dataclass(frozen=True)
class Unit:
    """A way to write a quantity: its name, and how to get to the stored unit and back."""

    name: str
    to_stored: Callable[[float], float]
    from_stored: Callable[[float], float]


MG_DL = Unit("mg/dL", float, float)
MMOL_L = Unit("mmol/L", glucose_mgdl, glucose_mmoll)
KG = Unit("kg", float, float)
LB = Unit("lb", kg_from_lb, lb_from_kg)


class UnitField(NumberField):
    """A number typed in one of two units and stored in the first.

    A number that fits only in the other unit is refused with a word about it.
    """

    def __init__(self, limit: Limit, first: Unit, second: Unit, **kwargs: Any) -> None:
        super().__init__(limit, **kwargs)
        self.choices = {first.name: first, second.name: second}
        self.chosen = first
        self.use(first.name)

    def use(self, name: str) -> None:
        """Write and read in this unit from now on; an unknown name changes nothing."""
        self.chosen = self.choices.get(name) or self.chosen
        self.unit = self.chosen.name
        # By these the browser brings back what was typed before the unit was changed.
        self.widget.attrs |= {
            "data-unit": self.unit,
            "data-per": self.chosen.to_stored(1),
            "data-low": self.limit.low,
            "data-high": self.limit.high,
        }

    def to_python(self, value: Any) -> Any:
        number = super().to_python(value)
        return None if number is None else self.chosen.to_stored(number)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int | float):
            number = self.chosen.from_stored(value)
            return as_typed(round(number, 1) if self.chosen.to_stored is not float else number)
        return value

    def validate(self, value: Any) -> None:
        try:
            super().validate(value)
        except forms.ValidationError as error:
            if value is None:
                raise
            typed = self.chosen.from_stored(value)
            for other in self.choices.values():
                if other is not self.chosen and self._fits(other.to_stored(typed)):
                    words = (
                        f"{error.messages[0]} Is {typed:g} in {other.name}? Then switch the unit."
                    )
                    raise forms.ValidationError(words) from error
            raise

    def _fits(self, value: float) -> bool:
        return self.limit.low <= value <= self.limit.high

    def shown(self, value: float) -> str:
        return f"{self.chosen.from_stored(value):.4g} {self.unit}"


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


def plain_helper() -> FormHelper:
    """A form laid out without its tag: pages own the tag and the buttons."""
    helper = FormHelper()
    helper.form_tag = False
    helper.disable_csrf = True
    return helper


class FindForm(forms.Form):
    """One box to search by; the page puts it where ``name`` is read.

    A second box of a page has its own ``auto_id``.
    """

    def __init__(
        self, name: str, label: str, typed: str, auto_id: str = "find_%s", **attrs: Any
    ) -> None:
        super().__init__(initial={name: typed}, auto_id=auto_id)
        box = forms.TextInput(
            attrs={"type": "search"} | {key.replace("_", "-"): attrs[key] for key in attrs}
        )
        self.fields[name] = forms.CharField(label=label, required=False, widget=box)
        self.helper = plain_helper()


class CrispyModelForm(forms.ModelForm):
    """A model form laid out in one block; the page owns the tag and the buttons."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        self.helper.layout = Layout(Div(*self.fields, css_class="fields"))


class OnceForm(forms.Form):
    """A form that counts once however often it is sent, and knows the version it shows."""

    submission_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    seen_version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, version: int = 0, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        if not self.is_bound:
            self.initial.setdefault("submission_key", new_key())
            self.initial.setdefault("seen_version", version)

    @property
    def key(self) -> uuid.UUID | None:
        """The key of this form with what is typed in it."""
        return key_of(self.cleaned_data.get("submission_key"), self.data)

    @property
    def seen(self) -> int:
        return self.cleaned_data.get("seen_version") or 0


def stored_and_here(compared: Iterable[tuple[Any, Any, Any]]) -> list[str]:
    """Sentences for a stale form: label, what is typed here, what somebody else stored."""
    return [
        f"{label}: stored “{there or '–'}”, here “{here or '–'}”."
        for label, here, there in compared
        if (here or None) != (there or None)
    ]


def change_data(form: forms.BaseForm, **values: str) -> None:
    """Put values into what a bound form will show again."""
    data: Any = form.data.copy()  # type: ignore[attr-defined]
    for name, value in values.items():
        data[form.add_prefix(name)] = value
    form.data = data


class Asked(str):
    """A sentence about one field of a form that asks."""

    field: str

    def __new__(cls, field: str, words: str) -> "Asked":
        made = super().__new__(cls, words)
        made.field = field
        return made


class AsksTwiceForm(OnceForm):
    """Unusual values are asked about once; a tick with the very same values lets them through."""

    confirmed = forms.CharField(required=False, widget=forms.HiddenInput)

    def unusual(self) -> list[str]:
        """Sentences about values outside the usual span, each asked of its field."""
        found: list[str] = []
        for name, form_field in self.fields.items():
            value = self.cleaned_data.get(name)
            if isinstance(form_field, PressureField) and value and value[0] is not None:
                if SYSTOLIC_MMHG.is_unusual(value[0]) or DIASTOLIC_MMHG.is_unusual(value[1]):
                    words = f"{form_field.label} {value[0]}/{value[1]} mmHg"
                    found.append(Asked(name, words))
                continue
            if not isinstance(form_field, NumberField) or value is None:
                continue
            if form_field.limit.is_unusual(value):
                found.append(Asked(name, f"{form_field.label} {form_field.shown(value)}"))
        return found

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        self.asks = self.unusual()
        token = "; ".join(self.asks)
        if self.asks and data.get("confirmed") != token and not self.errors:
            self.add_error(None, f"Unusual: {token}. Is that right? Correct it, or save again.")
            change_data(self, confirmed=token)
            for words in self.asks:
                if isinstance(words, Asked):
                    self._mark(words)
        return data

    def _mark(self, asked: Asked) -> None:
        """Beside the box it is about stands the question too. It is no error of the value: what
        is computed from it, and every finding of the rules, goes on counting it.
        """
        box: Any = self.fields[asked.field]
        earlier = getattr(box, "question", "")
        box.question = f"{earlier} {asked[0].upper()}{asked[1:]}: is that right?".strip()
        place = self[asked.field].auto_id
        helps = f"{place}_helptext " if box.help_text else ""
        box.widget.attrs |= {
            "aria-invalid": "true",
            "aria-describedby": f"{helps}{place}_question",
        }
