"""Setting a limit for a site, or a tighter one for one person."""

from typing import Any

from django import forms

from patients.forms import plain_helper
from programs.attendance.calc.catalogue import may_be_settled
from programs.attendance.calc.rules import Rule
from programs.attendance.models.limits import SETTLED_BY


class LimitForm(forms.Form):
    limit = forms.FloatField(required=False, help_text="Empty goes back to the program’s default.")
    settled_by = forms.ChoiceField(
        required=False,
        choices=[("", "as usual"), *SETTLED_BY],
        label="Who settles a hold",
        help_text="Until then it stays open, whatever is measured later.",
    )
    reason = forms.CharField(max_length=200, label="Reason, or which local protocol")
    seen_version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, rule: Rule, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        if rule.bounds is None:
            del self.fields["limit"]
        if not may_be_settled(rule.key):
            del self.fields["settled_by"]


class PersonLimitForm(forms.Form):
    rule_key = forms.ChoiceField(label="Rule")
    limit = forms.FloatField()
    reason = forms.CharField(max_length=200)

    def __init__(self, *args: Any, rules: tuple[Rule, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
        self.fields["rule_key"].choices = [  # type: ignore[attr-defined]
            (
                r.key,
                f"{r.bounds.name} {r.compare} {r.limit:g} {r.bounds.unit} ({r.level.word})",
            )
            for r in rules
            if r.bounds is not None
        ]


class EndLimitForm(forms.Form):
    reason = forms.CharField(max_length=100, label="Reason")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()
