"""Forms of payers and rule sets, supervision by risk, and precautions of a site."""

from typing import Any

from patients.forms import CrispyModelForm
from patients.models import PrecautionProtocol
from programs.enrolment.models import (
    Payer,
    SiteRuleSet,
    SupervisionPolicy,
)


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
