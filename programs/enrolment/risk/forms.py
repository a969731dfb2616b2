"""The entry screen and the risk stratification as forms built from their criteria."""

from typing import Any

from crispy_forms.layout import HTML, Div, Layout
from django import forms
from django.core.exceptions import ValidationError

from patients.forms import AsksTwiceForm, NumberField, YesNoField
from patients.rendering import why_each
from programs.enrolment.calc import risk, screen
from programs.enrolment.models import EntryScreen, RiskStratification

NOT_ANSWERED = "not answered"
# One press answers no to what is still open, another undoes that: config/static/house.js.
NONE_OF_THESE = """
<p>
  <button class="press" type="button" data-none-of-these hidden>None of these</button>
  <button class="press quiet" type="button" hidden>Undo</button>
</p>
"""


class ScreenForm(AsksTwiceForm):
    """Every contraindication, yes, no or not answered; then the decision."""

    decision = forms.ChoiceField(
        choices=[("", "choose"), *EntryScreen.Decision.choices], label="My decision"
    )
    reason = forms.CharField(
        max_length=200,
        required=False,
        label="Reason, if starting with a contraindication or an open question",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        readings = []
        for reading in screen.READINGS:
            name = field_name(reading.id)
            self.fields[name] = NumberField(reading.limit, label=reading.asks)
            readings.append(name)
        for question in screen.QUESTIONS:
            self.fields[field_name(question.id)] = YesNoField(
                label=question.asks,
                unanswered=NOT_ANSWERED,
                widget=forms.RadioSelect(attrs={"data-none": "no"}),
            )
        sources = screen.SOURCES.items()
        questions = [field_name(question.id) for question in screen.QUESTIONS]
        self.helper.layout = Layout(
            "submission_key", "confirmed",
            Div(*readings, css_class="fields wide"),
            HTML(NONE_OF_THESE),
            Div(*questions, css_class="items choices"),
            HTML(why_each((screen.NAMES[key], f"{key}, {source}") for key, source in sources)),
            HTML("<h3>Decision</h3>"),
            Div("decision", "reason", css_class="fields wide"),
        )  # fmt: skip

    def answers(self) -> dict[str, Any]:
        return {key: self.cleaned_data.get(field_name(key)) for key in screen.NAMES}


def field_name(criterion: str) -> str:
    return criterion.replace("-", "_")


class RiskForm(AsksTwiceForm):
    """Every criterion of the stratification; then the class, as computed unless overridden."""

    has_test = YesNoField(label="Exercise test done", unanswered=NOT_ANSWERED, required=True)
    nyha_class = forms.TypedChoiceField(
        choices=[("", NOT_ANSWERED), (1, "I"), (2, "II"), (3, "III"), (4, "IV")],
        coerce=int,
        empty_value=None,
        required=False,
        label="NYHA class",
    )
    pacemaker = YesNoField(
        label="Pacemaker",
        unanswered=NOT_ANSWERED,
        widget=forms.Select(attrs={"data-none": "no"}),
    )
    occasion = forms.ChoiceField(choices=RiskStratification.Occasion.choices, label="Occasion")
    decided = forms.ChoiceField(
        choices=[("", "as computed"), *[(str(c), str(c)) for c in risk.RiskClass]],
        required=False,
        label="My decision",
    )
    reason = forms.CharField(
        max_length=200, required=False, label="Reason, if otherwise than computed"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for criterion in risk.CRITERIA:
            self.fields[criterion.id] = _field_of(criterion)
        of_test = [c.id for c in risk.CRITERIA if c.is_of_test]
        others = [c.id for c in risk.CRITERIA if not c.is_of_test]
        self.helper.layout = Layout(
            "submission_key", "confirmed",
            HTML(NONE_OF_THESE),
            Div("has_test", *of_test, css_class="items"),
            HTML("<h3>Other criteria</h3>"),
            Div(*others, "nyha_class", "pacemaker", css_class="items"),
            HTML("<h3>Class</h3>"),
            Div("occasion", "decided", "reason", css_class="fields wide"),
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("has_test") is False:
            for criterion in risk.CRITERIA:
                if criterion.is_of_test and data.get(criterion.id) not in (None, ""):
                    self.add_error(criterion.id, "A test result, though no test was done.")
        return data

    def answers(self) -> dict[str, Any]:
        names = [*risk.BY_ID, "nyha_class", "pacemaker"]
        return {name: self.cleaned_data.get(name) for name in names}


def _field_of(criterion: risk.Criterion) -> forms.Field:
    if criterion.limit is not None:
        return NumberField(criterion.limit, label=criterion.asks)
    if criterion.kind == "symptoms":
        words = {
            risk.Symptoms.NONE: "none",
            risk.Symptoms.HIGH_EFFORT: "at 7 METs or more",
            risk.Symptoms.MIDDLE_EFFORT: "between 5 and 7 METs",
            risk.Symptoms.LOW_EFFORT: "below 5 METs, or in recovery",
        }
        choices = [("", NOT_ANSWERED), *[(str(key), label) for key, label in words.items()]]
        none = _answer_of_none(criterion, str(risk.Symptoms.NONE))
        return forms.ChoiceField(choices=choices, required=False, label=criterion.asks, widget=none)
    no = _answer_of_none(criterion, "no")
    return YesNoField(label=criterion.asks, unanswered=NOT_ANSWERED, widget=no)


def _answer_of_none(criterion: risk.Criterion, answer: str) -> forms.Select:
    """A box that says what "None of these" answers in it, and on which yes that hangs."""
    needs = {"data-needs": "has_test"} if criterion.is_of_test else {}
    return forms.Select(attrs={"data-none": answer} | needs)


def field_of(error: ValidationError, form: Any) -> str | None:
    """The field a refusal is about: a missing reason belongs beside the reason."""
    asks_reason = any("needs a reason" in words for words in error.messages)
    return "reason" if asks_reason and "reason" in form.fields else None
