"""Forms made from measures: adding a measure adds its fields here by itself."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from crispy_forms.layout import HTML, Div, Layout
from django import forms
from django.forms.utils import ErrorDict

from assessments.calc.catalogue import BY_KEY
from assessments.calc.measure import EQUATION, Input, Measure
from assessments.calc.vitals import BODY_SIZE
from assessments.forms_schedule import carers
from patients.calc.days import in_words
from patients.calc.limits import (
    HEIGHT_CM,
    TEMPERATURE_C,
    TREADMILL_KMH,
    WEIGHT_KG,
    NotScorable,
    OutOfRange,
)
from patients.calc.measuring import MMOL_L, STORED, Units
from patients.calc.person import Person
from patients.forms import (
    Asked,
    AsksTwiceForm,
    DayField,
    InUnits,
    NumberField,
    UnitField,
    YesNoField,
    as_typed,
    plain_helper,
)
from patients.rendering import why_each
from programs.staff.models import User

# What may be typed in one of two units; a test on a treadmill among them.
IN_UNITS = (HEIGHT_CM, WEIGHT_KG, TREADMILL_KMH, TEMPERATURE_C)


def field_for(entry: Input) -> forms.Field:
    if entry.options:
        usual = f"usual: {entry.options[0][1]}" if entry.key == EQUATION else "—"
        return forms.TypedChoiceField(
            choices=[("", usual), *entry.options],
            coerce=int,
            empty_value=None,
            required=False,
            label=entry.label,
        )
    if entry.is_yes_no:
        return YesNoField(label=entry.label, unanswered="not noted")
    assert entry.limit is not None, f"{entry.key} needs a limit, options or a question"
    if entry.limit in IN_UNITS:
        return UnitField(entry.limit, label=entry.label)
    return NumberField(entry.limit, whole=entry.is_whole, label=entry.label)


BETA_BLOCKER = "on_beta_blocker"
WEIGHT_JUMP = 0.10  # of the last weight, asked about beyond it (common practice, no source)
# Known before a test and filled in: none of them alone means that it was done.
BESIDE = {BETA_BLOCKER, "is_mmoll"}


@dataclass(frozen=True)
class Beforehand:
    """What the record and the site's policy say of tests before they are typed."""

    height_cm: float | None = None
    on_beta_blocker: bool = False
    units: Units = STORED
    longest_course_m: float | None = None
    weight_kg: float | None = None  # the last one weighed
    # Measured at another assessment of this course: key, day and the words for it.
    elsewhere: Mapping[tuple[str, date], str] = field(default_factory=dict)


class AssessmentForm(InUnits, AsksTwiceForm):
    """The tests of one assessment. A test left wholly empty was not done."""

    performed_on = DayField(label="Performed on")
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))
    # Tests beyond those chosen that this page was asked for.
    test = forms.MultipleChoiceField(
        choices=[(key, key) for key in BY_KEY], required=False, widget=forms.MultipleHiddenInput
    )

    def __init__(
        self,
        *args: Any,
        keys: list[str],
        today: Any,
        since: Any,
        person: Person,
        known: Beforehand | None = None,
        variants: Mapping[str, Mapping[str, Any]] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.known = known or Beforehand()
        for key, variant in (variants or {}).items():
            for name, value in variant.items():
                self.initial.setdefault(f"{key}-{name}", as_typed(value))
        self.measures = [BY_KEY[key] for key in keys]
        self.today, self.since, self.person = today, since, person
        self._fill_in_known()
        for measure in self.measures:
            for entry in measure.inputs:
                self.fields[f"{measure.key}-{entry.key}"] = field_for(entry)
        unit_boxes = self.choose_units(self.known.units)
        self.helper.layout = Layout(
            "submission_key",
            "seen_version",
            "confirmed",
            "test",
            *unit_boxes,
            Div("performed_on", css_class="fields"),
            Div(*[self._section(measure) for measure in self.measures], css_class="measure-grid"),
            "note",
            HTML(why_each((measure.name, measure.citation) for measure in self.measures)),
        )

    def _fill_in_known(self) -> None:
        """What is on record; where nothing is, the question stays open."""
        if self.known.height_cm is not None:
            self.initial.setdefault(f"{BODY_SIZE.key}-height_cm", self.known.height_cm)
        for measure in self.measures:
            names = {entry.key for entry in measure.inputs}
            if BETA_BLOCKER in names and self.known.on_beta_blocker:
                self.initial.setdefault(f"{measure.key}-{BETA_BLOCKER}", True)
            if "is_mmoll" in names:
                is_mmoll = self.known.units.glucose is MMOL_L
                self.initial.setdefault(f"{measure.key}-is_mmoll", is_mmoll)

    def as_typed(self) -> "AssessmentForm":
        """The same boxes as they were sent, not judged yet."""
        self._errors = ErrorDict()
        self.cleaned_data = {}
        return self

    def unusual(self) -> list[str]:
        """Also what contradicts the record, the corridor, or another test of the same day."""
        found = super().unusual()
        day = self.cleaned_data.get("performed_on") or self.today
        for measure in self.measures:
            if not self._is_touched(measure):
                continue
            given = self._inputs(measure)
            found += [f"{measure.name}: {words}" for words in measure.odd(given)]
            if BETA_BLOCKER in given and self.known.on_beta_blocker and not given[BETA_BLOCKER]:
                words = f"{measure.name}, though a beta-blocker is on record"
                found.append(Asked(f"{measure.key}-{BETA_BLOCKER}", words))
            weight, last = given.get("weight_kg"), self.known.weight_kg
            if weight and last and abs(weight - last) > WEIGHT_JUMP * last:
                name = f"{measure.key}-weight_kg"
                box: Any = self.fields[name]
                words = f"Weight {box.shown(weight)}, though {box.shown(last)} was weighed last"
                found.append(Asked(name, words))
            course, longest = given.get("course_m"), self.known.longest_course_m
            if course is not None and longest is not None and course > longest:
                words = f"{measure.name} on {course:g} m, though the longest course here is"
                found.append(Asked(f"{measure.key}-course_m", f"{words} {longest:g} m"))
            if other := self.known.elsewhere.get((measure.key, day)):
                words = f"{measure.name} a second time on the same day, {other}"
                found.append(Asked("performed_on", words))
        return found

    def _section(self, measure: Measure) -> Div:
        names = [f"{measure.key}-{entry.key}" for entry in measure.inputs]
        first = measure.inputs[0]
        shape = "items" if first.options or first.is_yes_no else "fields"
        return Div(
            HTML(f"<h2>{measure.name}</h2>"),
            Div(*names, css_class=shape),
            css_class="sheet measure wide" if len(names) > 3 else "sheet measure",
            css_id=measure.key,
        )

    def clean_performed_on(self) -> Any:
        day = self.cleaned_data["performed_on"]
        if day > self.today:
            raise forms.ValidationError("An assessment cannot be performed in the future.")
        if day < self.since:
            raise forms.ValidationError(
                f"This person was referred on {in_words(self.since)}; check the day."
            )
        return day

    def clean(self) -> dict[str, Any]:
        """Every fault in one round, each beside its test; only then what is merely unusual."""
        entries = self.entries()
        for measure in self.measures:
            if measure.key in entries and not self._lacks_something(measure):
                self._score(measure, entries[measure.key])
        return super().clean()

    def _lacks_something(self, measure: Measure) -> bool:
        names = {entry: f"{measure.key}-{entry.key}" for entry in measure.inputs}
        for entry, name in names.items():
            if entry.is_needed and self.cleaned_data.get(name) is None and name not in self.errors:
                self.add_error(name, f"{measure.name} needs this.")
        return any(name in self.errors for name in names.values())

    def _score(self, measure: Measure, inputs: Mapping[str, Any]) -> None:
        """What no single box shows, such as a pressure the wrong way round."""
        day = self.cleaned_data.get("performed_on") or self.today
        try:
            measure.score(inputs, self.person, day)
        except (NotScorable, OutOfRange) as error:
            empty = (entry for entry in measure.inputs if inputs.get(entry.key) is None)
            place = next(empty, measure.inputs[0]) if measure.is_questionnaire else None
            self.add_error(f"{measure.key}-{(place or measure.inputs[0]).key}", str(error))

    def _inputs(self, measure: Measure) -> dict[str, Any]:
        return {
            entry.key: self.cleaned_data.get(f"{measure.key}-{entry.key}")
            for entry in measure.inputs
        }

    def _is_touched(self, measure: Measure) -> bool:
        """Something was measured; how it would be done, or a known height, is no test done."""
        beside = {
            *BESIDE,
            *measure.variant_inputs,
            *(["height_cm"] if measure is BODY_SIZE else []),
        }
        given = self._inputs(measure)
        return any(value is not None for key, value in given.items() if key not in beside)

    def entries(self) -> dict[str, dict[str, Any]]:
        """Raw inputs of each test that was touched. Usable on a form with errors too.

        Height and weight are typed once: a walk without its own takes those of the body size.
        """
        found = {m.key: self._inputs(m) for m in self.measures if self._is_touched(m)}
        size = self._inputs(BODY_SIZE) if BODY_SIZE in self.measures else {}
        for inputs in found.values():
            for key in BODY:
                if key in inputs and inputs[key] is None:
                    inputs[key] = size.get(key)
        return found


BODY = ("height_cm", "weight_kg")  # typed once, beside the body size


def initial_of(measurements: Sequence[Any]) -> dict[str, Any]:
    """Stored raw inputs in the form's own field names.

    A test that took height or weight from the body size shows none of its own, so that it goes on
    following when these are corrected.
    """
    size: Mapping[str, Any] = next((m.inputs for m in measurements if m.key == BODY_SIZE.key), {})
    initial = {}
    for measurement in measurements:
        for name, value in measurement.inputs.items():
            follows = name in BODY and measurement.key != BODY_SIZE.key and value == size.get(name)
            if not follows:
                initial[f"{measurement.key}-{name}"] = as_typed(value)
    return initial


class ReasonForm(forms.Form):
    """Why a result is wrong or could not be obtained; ``about`` tells several on a page apart."""

    reason = forms.CharField(max_length=200)

    def __init__(self, *args: Any, label: str = "", about: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", f"{about}_%s")
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        self.fields["reason"].label = label or "Reason"


class AddTestForm(forms.Form):
    """One more test on this page."""

    # Sent with the tests that are being typed, so that none of them is lost.
    add_test = forms.ChoiceField(
        label="Test", required=False, widget=forms.Select(attrs={"form": "record"})
    )

    def __init__(self, measures: list[Measure]) -> None:
        super().__init__(auto_id="add_%s")
        self.helper = plain_helper()
        test: Any = self.fields["add_test"]
        test.choices = [(measure.key, measure.name) for measure in measures]


class CloseConcernForm(forms.Form):
    outcome = forms.CharField(
        label="What was done, and by whom",
        min_length=15,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"min_length": "Say what was done; somebody will rely on it."},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class HandOverForm(forms.Form):
    to = forms.ModelChoiceField(User.objects.none(), label="Assign to")

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        field: Any = self.fields["to"]
        field.queryset = carers(site)
