"""Answering findings, writing up a hold or stop, taking one back."""

from typing import Any

from django import forms

from patients.forms import plain_helper
from programs.attendance.models import Finding, Interruption, Visit


class AnswerForm(forms.Form):
    """One decision about the open findings that are ticked."""

    findings = forms.ModelMultipleChoiceField(
        Finding.objects.none(),
        label="Decide about",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick what the decision is about."},
    )
    decision = forms.ChoiceField(choices=Finding.Decision.choices)
    reason = forms.CharField(
        max_length=200, error_messages={"required": "A decision needs a reason."}
    )
    told = forms.CharField(max_length=80, required=False, label="Clinician told or deciding")

    def __init__(self, *args: Any, visit: Visit, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "answer_%s")
        kwargs.setdefault("use_required_attribute", False)
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        findings: Any = self.fields["findings"]
        findings.queryset = visit.findings.all()
        self.open = [f for f in visit.findings.all() if f.is_open]
        findings.choices = [(f.pk, f"{f.rule_id} {f.level_word}") for f in self.open]
        self.initial["findings"] = [f.pk for f in self.open]
        self.fields["decision"].widget.choices = self._decisions()  # type: ignore[attr-defined]

    def _decisions(self) -> list[tuple[str, str]]:
        """Stop first where a stop rule triggered, else hold; going on comes last."""
        worst_is_stop = any(f.level_word == "stop" for f in self.open)
        first = Finding.Decision.STOP if worst_is_stop else Finding.Decision.HOLD
        return [(first, first.label), (Finding.Decision.PROCEED, Finding.Decision.PROCEED.label)]


class WriteUpForm(forms.Form):
    """A hold or stop as a record."""

    seen = forms.CharField(max_length=300, label="What was seen")
    done = forms.CharField(max_length=300, label="What was done")
    told = forms.CharField(max_length=120, label="Who was told")
    return_condition = forms.CharField(max_length=200, label="May return when")
    outcome = forms.CharField(max_length=200, required=False, label="How it ended")

    def __init__(self, *args: Any, row: Interruption, **kwargs: Any) -> None:
        names = ["seen", "done", "told", "return_condition", "outcome"]
        kwargs.setdefault("initial", {name: getattr(row, name) for name in names})
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()

    def words(self) -> dict[str, str]:
        names = ["seen", "done", "told", "return_condition", "outcome"]
        return {name: self.cleaned_data[name] for name in names}


class TakeBackForm(forms.Form):
    reason = forms.CharField(max_length=80, label="Why?")
    seen_version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "take_back_%s")
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
