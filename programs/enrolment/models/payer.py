"""Who pays, and the rule set read for them: a shipped one, or the site's own copy of one."""

from dataclasses import replace

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.constraints import within
from patients.history import ClinicalModel, VersionedModel
from programs.enrolment.calc.rule_sets import (
    MAX_LVEF_PERCENT,
    PLANNED_MONTHS,
    SHIPPED,
    STABLE_WEEKS,
    THERAPY_WEEKS,
    WINDOW_MONTHS,
    HeartFailureTerms,
    RuleSet,
)

SHIPPED_CHOICES = [(key, rules.name) for key, rules in SHIPPED.items()]
WINDOWS = ["mi", "pci", "cabg", "valve", "transplant"]  # kinds whose window a site may change


class SiteRuleSet(VersionedModel):
    """A site's copy of a shipped rule set with numbers of its own, inside the bounds."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="rule_sets")
    name = models.CharField(max_length=80)
    based_on = models.CharField(max_length=12, choices=SHIPPED_CHOICES)
    mi_months = models.PositiveSmallIntegerField("heart attack, months", null=True, blank=True)
    pci_months = models.PositiveSmallIntegerField("stent, months", null=True, blank=True)
    cabg_months = models.PositiveSmallIntegerField("bypass, months", null=True, blank=True)
    valve_months = models.PositiveSmallIntegerField("valve, months", null=True, blank=True)
    transplant_months = models.PositiveSmallIntegerField(
        "transplant, months", null=True, blank=True
    )
    max_lvef_percent = models.FloatField("heart failure: LVEF at most, %")
    therapy_weeks = models.PositiveSmallIntegerField("weeks on optimal therapy")
    stable_weeks = models.PositiveSmallIntegerField("quiet weeks before the start")
    planned_months = models.PositiveSmallIntegerField("months without a planned procedure")
    source = models.CharField(
        max_length=200, help_text="Contract, policy or law these numbers come from."
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="siteruleset_one_name",
                fields=["site", "name"],
                violation_error_message="This site already has a rule set of this name.",
            ),
            within("mi_months", WINDOW_MONTHS, table="siteruleset"),
            within("pci_months", WINDOW_MONTHS, table="siteruleset"),
            within("cabg_months", WINDOW_MONTHS, table="siteruleset"),
            within("valve_months", WINDOW_MONTHS, table="siteruleset"),
            within("transplant_months", WINDOW_MONTHS, table="siteruleset"),
            within("max_lvef_percent", MAX_LVEF_PERCENT, table="siteruleset"),
            within("therapy_weeks", THERAPY_WEEKS, table="siteruleset"),
            within("stable_weeks", STABLE_WEEKS, table="siteruleset"),
            within("planned_months", PLANNED_MONTHS, table="siteruleset"),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def copy_of(cls, key: str, **given) -> "SiteRuleSet":
        """An unsaved copy of a shipped set, its numbers unchanged."""
        rules = SHIPPED[key]
        terms = rules.heart_failure
        numbers: dict[str, float | None] = {
            f"{kind}_months": rules.routes[kind].months for kind in WINDOWS
        }
        numbers |= {
            "max_lvef_percent": terms.max_lvef_percent,
            "therapy_weeks": terms.therapy_weeks,
            "stable_weeks": terms.stable_weeks,
            "planned_months": terms.planned_months,
        }
        return cls(based_on=key, **(numbers | {"source": rules.source} | given))

    def rule_set(self) -> RuleSet:
        """What the eligibility rule reads."""
        shipped = SHIPPED[self.based_on]
        routes = dict(shipped.routes)
        for kind in WINDOWS:
            months = getattr(self, f"{kind}_months")
            if months != routes[kind].months:
                words = routes[kind].words.split(" within")[0]
                span = f"{words} within {months} months" if months else words
                routes[kind] = replace(routes[kind], months=months, words=span)
        return replace(
            shipped,
            key=f"site-{self.pk}",
            name=f"{self.name} (site’s own, after {shipped.name})",
            source=self.source,
            routes=routes,
            heart_failure=HeartFailureTerms(
                max_lvef_percent=self.max_lvef_percent,
                therapy_weeks=self.therapy_weeks,
                stable_weeks=self.stable_weeks,
                planned_months=self.planned_months,
            ),
        )


class Payer(ClinicalModel):
    """Who pays for the program, and by which rule set eligibility is read for them."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="payers")
    name = models.CharField(max_length=80)
    shipped = models.CharField(
        "shipped rule set", max_length=12, choices=SHIPPED_CHOICES, blank=True, default=""
    )
    own = models.ForeignKey(
        SiteRuleSet,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="payers",
        verbose_name="the site’s own rule set",
    )
    is_active = models.BooleanField("in use", default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="payer_one_name",
                fields=["site", "name"],
                violation_error_message="This site already has a payer of this name.",
            ),
            models.CheckConstraint(
                name="payer_has_one_rule_set",
                condition=(Q(shipped="") & Q(own__isnull=False)) | (~Q(shipped="") & Q(own=None)),
                violation_error_message="Choose a shipped rule set or the site’s own, not both.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def rule_set(self) -> RuleSet:
        return self.own.rule_set() if self.own else SHIPPED[self.shipped]
