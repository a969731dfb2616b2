"""Forms of the timetable, of payers and rule sets, and of site settings."""

from typing import Any

from django import forms

from patients.forms import CrispyModelForm, DayField, DayInput, plain_helper
from patients.models import PrecautionProtocol
from programs.enrolment.models import (
    ClassChange,
    ClassSlot,
    Payer,
    SiteRuleSet,
    SupervisionPolicy,
)


class ClassForm(CrispyModelForm):
    class Meta:
        model = ClassSlot
        fields = [
            "weekday", "starts_at", "minutes", "seats", "staff_needed", "ecg_channels", "is_open",
        ]  # fmt: skip
        widgets = {"starts_at": forms.TimeInput(attrs={"type": "time"}, format="%H:%M")}


class ClosureForm(forms.Form):
    on = DayField(label="Closed on")
    reason = forms.CharField(max_length=80)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = plain_helper()


class ClassChangeForm(CrispyModelForm):
    class Meta:
        model = ClassChange
        fields = ["slot", "on", "is_cancelled", "starts_at", "seats", "reason"]
        widgets = {
            "on": DayInput(),
            "starts_at": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        }

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        slot: Any = self.fields["slot"]
        slot.queryset = ClassSlot.objects.filter(site=site, is_open=True)
        slot.label = "Class"


class PayerForm(CrispyModelForm):
    class Meta:
        model = Payer
        fields = ["name", "shipped", "own", "is_active"]

    def __init__(self, *args: Any, site: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own: Any = self.fields["own"]
        own.queryset = SiteRuleSet.objects.filter(site=site)


class RuleSetForm(CrispyModelForm):
    class Meta:
        model = SiteRuleSet
        fields = [
            "name", "mi_months", "pci_months", "cabg_months", "valve_months", "transplant_months",
            "max_lvef_percent", "therapy_weeks", "stable_weeks", "planned_months", "source",
        ]  # fmt: skip
        help_texts = {
            f"{kind}_months": "Empty sets no time limit."
            for kind in ("mi", "pci", "cabg", "valve", "transplant")
        }


class SupervisionForm(CrispyModelForm):
    class Meta:
        model = SupervisionPolicy
        fields = [
            "supervised_low", "supervised_high", "supervised_days", "ecg_low", "ecg_high", "source",
        ]  # fmt: skip


class ProtocolForm(CrispyModelForm):
    class Meta:
        model = PrecautionProtocol
        fields = ["access", "instruction", "days", "source"]
