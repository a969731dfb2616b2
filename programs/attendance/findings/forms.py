"""Answering findings, writing up a hold or stop, taking one back."""

from collections.abc import Sequence
from typing import Any

from crispy_forms.layout import Field, Layout
from django import forms
from django.utils.text import slugify

from patients.forms import OnceForm, plain_helper
from programs.attendance.calc.names import name_of
from programs.attendance.findings.not_taken import REST, Lacking
from programs.attendance.models import Finding, Interruption, NotTaken, Visit


class AnswerForm(forms.Form):
    """One decision about the open findings that are ticked; a hold or stop documented with it."""

    findings = forms.ModelMultipleChoiceField(
        Finding.objects.none(),
        label="Alerts",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick what the decision is about."},
    )
    decision = forms.ChoiceField(choices=Finding.Decision.choices)
    reason = forms.CharField(max_length=200, required=False)
    done = forms.CharField(max_length=300, required=False, label="What was done")
    told = forms.CharField(max_length=80, required=False, label="Clinician notified")
    return_condition = forms.CharField(
        max_length=200, required=False, label="May return when (criteria)"
    )

    def __init__(self, *args: Any, visit: Visit, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "answer_%s")
        kwargs.setdefault("use_required_attribute", False)
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        findings: Any = self.fields["findings"]
        findings.queryset = visit.findings.all()
        self.open = [f for f in visit.findings.all() if f.is_open]
        names = {f.pk: name_of(f.rule_id, f.about) for f in self.open}
        if len(names) == 1:  # nothing to choose: the question names it
            findings.widget = forms.MultipleHiddenInput()
        findings.choices = [(f.pk, f"{names[f.pk]} ({f.level_word})") for f in self.open]
        self.initial["findings"] = [f.pk for f in self.open]
        decision: Any = self.fields["decision"]
        decision.widget.choices = self._decisions()
        about = next(iter(names.values())) if len(names) == 1 else ""
        decision.label = f"{about}: what now?" if about else "What now?"
        self.helper.layout = Layout(
            "findings",
            "decision",
            Field("reason", wrapper_class="going-on"),
            Field("done", wrapper_class="held"),
            "told",
            Field("return_condition", wrapper_class="held"),
        )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("decision") == Finding.Decision.PROCEED and not data.get("reason"):
            self.add_error("reason", "A decision needs a reason.")
        return data

    def _decisions(self) -> list[tuple[str, str]]:
        """Stop first where a stop rule triggered, else hold; going on comes last."""
        worst_is_stop = any(f.level_word == "stop" for f in self.open)
        first = Finding.Decision.STOP if worst_is_stop else Finding.Decision.HOLD
        return [(first, first.label), (Finding.Decision.PROCEED, Finding.Decision.PROCEED.label)]


class WriteUpForm(forms.Form):
    """A hold or stop as a record."""

    seen = forms.CharField(max_length=300, label="What was seen")
    done = forms.CharField(max_length=300, label="What was done")
    told = forms.CharField(max_length=120, label="Who was notified")
    return_condition = forms.CharField(max_length=200, label="May return when (criteria)")
    outcome = forms.CharField(max_length=200, required=False, label="Outcome")

    def __init__(self, *args: Any, row: Interruption, **kwargs: Any) -> None:
        names = ["seen", "done", "told", "return_condition", "outcome"]
        kwargs.setdefault("initial", {name: getattr(row, name) for name in names})
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()

    def words(self) -> dict[str, str]:
        names = ["seen", "done", "told", "return_condition", "outcome"]
        return {name: self.cleaned_data[name] for name in names}


class NotTakenForm(OnceForm):
    """Why each thing a rule asked for was not taken, before a step goes on without it."""

    step = forms.ChoiceField(choices=NotTaken.Step.choices, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, step: str, lacking: Sequence[Lacking], may_decide: bool, **kwargs: Any
    ) -> None:
        kwargs.setdefault("auto_id", "without_%s")
        super().__init__(*args, **kwargs)
        self.initial.setdefault("step", step)
        self.lacking = {f"because_{slugify(one.what)}": one for one in lacking}
        for name, one in self.lacking.items():
            who = "A clinician decides." if one.needs_clinician else ""
            self.fields[name] = forms.CharField(
                max_length=200,
                required=False,
                label=f"Why no {one.what.removeprefix('the ')}?",
                help_text=who,
            )
        if len(lacking) > 1:
            self.fields["rest"] = forms.CharField(
                max_length=200, required=False, label="For everything else"
            )
        if not may_decide and any(one.needs_clinician for one in lacking):
            self.fields["decided_by"] = forms.CharField(
                max_length=80, required=False, label="Clinician who decided"
            )

    @property
    def rules_waiting(self) -> str:
        """Which rules wait for what."""
        return "; ".join(one.words for one in self.lacking.values())

    @property
    def wanted(self) -> str:
        """The step in the words of its button."""
        return {"start": "Start", "finish": "Finish"}[self["step"].value()]

    def reasons(self) -> dict[str, str]:
        """By what was not taken; the reason for the rest under ``REST``."""
        given = {one.what: self.cleaned_data[name] for name, one in self.lacking.items()}
        return given | {REST: self.cleaned_data.get("rest", "")}

    def refuse(self, left: Sequence[Lacking]) -> None:
        """Say which of them still need a reason, or a clinician."""
        names = {one.what: name for name, one in self.lacking.items()}
        given = self.reasons()  # a field that is refused loses its value
        for one in left:
            if not (given.get(one.what) or given[REST]):
                self.add_error(names.get(one.what), f"Why was {one.what} not taken?")
            elif "decided_by" in self.fields:
                self.add_error("decided_by", f"Who decided to go on without {one.what}?")


class TakeBackForm(forms.Form):
    reason = forms.CharField(max_length=80, label="Reason")
    seen_version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "take_back_%s")
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
