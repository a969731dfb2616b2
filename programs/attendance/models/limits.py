"""Limits of the safety rules that a site, or one person, has instead of the program's."""

from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import OutOfRange
from patients.history import ClinicalModel, ClinicalQuerySet, VersionedModel
from programs.attendance.calc.catalogue import check_limit, may_be_settled
from programs.attendance.calc.rules import Settled

SETTLED_BY = [
    (Settled.FLOOR.value, "floor staff, by a repeat inside the limit"),
    (Settled.CLINICIAN.value, "a clinician"),
]


def within_bounds(key: str, limit: float) -> None:
    """Raise ValidationError for an unknown rule, or a limit outside what a rule allows."""
    try:
        check_limit(key, limit)
    except KeyError as error:
        raise ValidationError({"rule_key": f"{key} has no limit that can be set."}) from error
    except OutOfRange as error:
        raise ValidationError({"limit": str(error)}) from error


class SiteLimit(VersionedModel):
    """A site's own limit of one rule, and who may settle its hold; empty means the default."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="limits")
    rule_key = models.CharField(max_length=40)
    limit = models.FloatField(null=True, blank=True)
    settled_by = models.CharField(
        "who settles a hold", max_length=9, choices=SETTLED_BY, blank=True, default=""
    )
    reason = models.CharField("why, or which local protocol", max_length=200)
    set_on = models.DateField()
    history = HistoricalRecords()

    class Meta:
        ordering = ["rule_key"]
        constraints = [
            models.UniqueConstraint(name="sitelimit_one_a_rule", fields=["site", "rule_key"])
        ]

    def __str__(self) -> str:
        return f"{self.rule_key} at {self.site}: {self.limit}"

    def clean(self) -> None:
        if self.limit is not None:
            within_bounds(self.rule_key, self.limit)
        if self.settled_by and not may_be_settled(self.rule_key):
            raise ValidationError({"settled_by": f"{self.rule_key} holds nobody by a reading."})


class PersonLimitQuerySet(ClinicalQuerySet):
    def in_force(self) -> "PersonLimitQuerySet":
        return self.filter(ended_on=None)


class PersonLimit(ClinicalModel):
    """A tighter limit of one rule for one person, until somebody ends it."""

    of_site = "patient__site"

    patient = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="limits")
    rule_key = models.CharField(max_length=40)
    limit = models.FloatField()
    reason = models.CharField(max_length=200)
    set_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    objects: ClassVar[Any] = PersonLimitQuerySet.as_manager()

    class Meta:
        ordering = ["rule_key", "-set_on"]
        constraints = [
            models.UniqueConstraint(
                name="personlimit_one_a_rule",
                fields=["patient", "rule_key"],
                condition=Q(ended_on=None),
                violation_error_message="This person already has a limit of this rule; end it.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.rule_key} of {self.patient}: {self.limit}"

    def clean(self) -> None:
        within_bounds(self.rule_key, self.limit)
