"""Form pieces every room uses: a form that counts once, asks twice, knows its units.

The boxes themselves are in ``patients.boxes`` and ``patients.boxes_of_time``.
"""

import uuid
from collections.abc import Callable, Iterable
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Layout
from django import forms
from django.core.exceptions import ValidationError

from patients.boxes import NumberField as NumberField
from patients.boxes import PressureField as PressureField
from patients.boxes import UnitField as UnitField
from patients.boxes import YesNoField as YesNoField
from patients.boxes import as_typed as as_typed
from patients.boxes_of_time import DayField as DayField
from patients.boxes_of_time import DayInput as DayInput
from patients.calc.limits import DIASTOLIC_MMHG, SYSTOLIC_MMHG
from patients.calc.measuring import QUANTITIES, Units
from patients.history import StaleVersion
from patients.submissions import key_of, new_key

NOTHING_CHOSEN = ("", "choose")  # a list never answers for somebody


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


def stored(form: Any, store: Callable[[], object]) -> bool:
    """Whether a valid form could be stored; what refuses it is said in the form."""
    try:
        store()
    except StaleVersion:
        form.add_error(None, "Somebody else changed this meanwhile; open it again.")
    except ValidationError as error:
        form.add_error(None, error.messages)
    return form.is_valid()


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


class InUnits:
    """A form with boxes in somebody's units. It carries the ones it was shown in, so that it is
    read in these whatever anybody chooses meanwhile."""

    fields: dict[str, forms.Field]
    initial: Any
    data: Any
    is_bound: bool

    def choose_units(self, units: Units) -> list[str]:
        """Show the boxes in ``units``, or read them in those the form was sent with; one sent
        without any is in the stored ones. Gives the names of the hidden boxes for the layout."""
        names = []
        for quantity in QUANTITIES:
            boxes = [
                (name, field)
                for name, field in self.fields.items()
                if isinstance(field, UnitField) and field.quantity is quantity
            ]
            if not boxes:
                continue
            kind = f"{quantity.key}_unit"
            shown = getattr(units, quantity.key).name
            self.fields[kind] = forms.CharField(required=False, widget=forms.HiddenInput)
            self.initial[kind] = shown
            chosen = self.data.get(kind, "") if self.is_bound else shown
            for name, field in boxes:
                field.use(chosen)
                if self.initial.get(name) is not None:
                    field.keep(self.initial[name])
            names.append(kind)
        return names
