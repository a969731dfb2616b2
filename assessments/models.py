"""Assessments, their measurements, and concerns that wait for a named person."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from assessments.calc.catalogue import BY_KEY
from assessments.calc.measure import Measure
from assessments.calc.six_minute_walk import COURSE_M
from assessments.calc.timing import INFORMAL_EVERY_DAYS
from patients.constraints import within
from patients.history import ClinicalModel, ClinicalQuerySet, VersionedModel
from patients.models import BodyWeight
from programs.enrolment.models import Enrolment
from programs.staff.models import Site


class Assessment(VersionedModel):
    of_site = "enrolment__patient__site"

    class Kind(models.TextChoices):
        BASELINE = "baseline", "Baseline assessment"
        INFORMAL = "informal", "Progress check"
        SIX_WEEKS = "six_weeks", "Six-week reassessment"
        EXIT = "exit", "Exit assessment"

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="assessments")
    kind = models.CharField(max_length=12, choices=Kind)
    number = models.PositiveSmallIntegerField(default=1)  # of an informal check, its week
    planned_on = models.DateField(null=True, blank=True)
    performed_on = models.DateField(null=True, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    # Who will do it, when booked; else whoever looks after the course.
    booked_with = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    not_obtained_because = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)
    limits = models.JSONField("seems limited by", default=list, blank=True)  # calc/choosing.py
    tests = models.JSONField("tests chosen", default=list, blank=True)  # keys of the catalogue
    history = HistoricalRecords()

    class Meta:
        ordering = ["performed_on", "planned_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="assessment_one_of_each",
                fields=["enrolment", "kind", "number"],
                violation_error_message="This assessment already exists.",
            ),
            models.CheckConstraint(
                name="assessment_kind_known",
                condition=Q(kind__in=["baseline", "informal", "six_weeks", "exit"]),
            ),
            models.CheckConstraint(
                name="assessment_performed_by_somebody",
                condition=Q(performed_on=None) | Q(by__isnull=False),
                violation_error_message="A performed assessment names who performed it.",
            ),
            models.CheckConstraint(
                name="assessment_performed_or_not_obtained",
                condition=Q(performed_on=None) | Q(not_obtained_because=""),
                violation_error_message="A performed assessment was obtained.",
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class MeasurementQuerySet(ClinicalQuerySet):
    def standing(self) -> "MeasurementQuerySet":
        """Not marked entered in error."""
        return self.filter(error_reason="")


class Measurement(ClinicalModel):
    """A scored measure with its raw inputs, so that any number can be recomputed and explained."""

    of_site = "assessment__enrolment__patient__site"

    assessment = models.ForeignKey(
        Assessment, on_delete=models.PROTECT, related_name="measurements"
    )
    key = models.CharField(max_length=40)
    inputs = models.JSONField()
    value = models.FloatField(null=True, blank=True)  # empty only for "tried, not able"
    unit = models.CharField(max_length=20, blank=True)  # an index or a class has none
    derived = models.JSONField(default=list, blank=True)
    interpretation = models.CharField(max_length=200, blank=True)
    reference = models.CharField(max_length=120, blank=True)
    remarks = models.JSONField(default=list, blank=True)
    is_in_range = models.BooleanField(default=True)
    formula_version = models.CharField(max_length=40)
    # Where a body weight was typed: the person's weight of that day.
    body_weight = models.OneToOneField(
        BodyWeight, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    error_reason = models.CharField("entered in error because", max_length=200, blank=True)
    history = HistoricalRecords()

    objects: ClassVar[Any] = MeasurementQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                name="measurement_one_standing",
                fields=["assessment", "key"],
                condition=Q(error_reason=""),
                violation_error_message="This test is already recorded here.",
            )
        ]
        indexes = [models.Index(fields=["key", "assessment"])]

    def __str__(self) -> str:
        return f"{self.measure.name}: {self.shown}"

    @property
    def measure(self) -> Measure:
        return BY_KEY[self.key]

    @property
    def shown(self) -> str:
        """The value for people, rounded as the measure says."""
        return self.in_words(self.value)

    def in_words(self, value: float | None) -> str:
        """Any value of this measure for people."""
        return self.measure.shown(value)

    @property
    def derived_values(self) -> dict[str, float]:
        """What was computed beside the value, by key."""
        return {d["key"]: d["value"] for d in self.derived}

    @property
    def derived_lines(self) -> list[str]:
        return [f"{d['label']} {d['value']:.{d['digits']}f} {d['unit']}" for d in self.derived]


class Concern(ClinicalModel):
    """Something that must not wait, such as an answer to PHQ-9 item 9; open until closed."""

    of_site = "assessment__enrolment__patient__site"

    assessment = models.ForeignKey(Assessment, on_delete=models.PROTECT, related_name="concerns")
    key = models.CharField(max_length=40)
    sentence = models.CharField(max_length=200)
    raised_at = models.DateTimeField(auto_now_add=True)
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    outcome = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["raised_at"]
        constraints = [
            models.UniqueConstraint(
                name="concern_one_open", fields=["assessment", "key"], condition=Q(closed_at=None)
            ),
            models.CheckConstraint(
                name="concern_closed_with_outcome",
                condition=Q(closed_at=None, closed_by=None)
                | (Q(closed_at__isnull=False, closed_by__isnull=False) & ~Q(outcome="")),
                violation_error_message="Closing needs what was done.",
            ),
        ]

    def __str__(self) -> str:
        return self.sentence


class UsualTests(VersionedModel):
    """What a site does at one kind of assessment, unless somebody chooses otherwise."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="usual_tests")
    kind = models.CharField(max_length=12, choices=Assessment.Kind)
    tests = models.JSONField(default=list)
    reason = models.CharField(max_length=200)
    history = HistoricalRecords()

    class Meta:
        ordering = ["kind"]
        constraints = [
            models.UniqueConstraint(
                name="usualtests_one_a_kind",
                fields=["site", "kind"],
                violation_error_message="This site already has a set for this assessment.",
            ),
            models.CheckConstraint(
                name="usualtests_kind_known",
                condition=Q(kind__in=["baseline", "informal", "six_weeks", "exit"]),
            ),
        ]

    def __str__(self) -> str:
        return f"tests of the {self.get_kind_display()}"


class SiteEquation(VersionedModel):
    """Which reference equation a site uses for a test; results name it."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="equations")
    key = models.CharField(max_length=40)
    equation = models.PositiveSmallIntegerField()
    reason = models.CharField(max_length=200)
    history = HistoricalRecords()

    class Meta:
        ordering = ["key"]
        constraints = [
            models.UniqueConstraint(
                name="siteequation_one_a_test",
                fields=["site", "key"],
                violation_error_message="This site already chose an equation for this test.",
            )
        ]

    def __str__(self) -> str:
        return f"equation of {self.key}"

    @property
    def name(self) -> str:
        return dict(BY_KEY[self.key].equations).get(self.equation, "")


def rhythm_of(stored: Iterable[Sequence[Any]]) -> tuple[tuple[date, int], ...]:
    """A policy's rhythm as it is stored, as days and intervals."""
    return tuple((date.fromisoformat(since), every) for since, every in stored)


class AssessmentPolicy(VersionedModel):
    """How a site assesses: how often informally, on which course, who answers for a concern."""

    of_site = "site"

    site = models.OneToOneField(
        "staff.Site", on_delete=models.PROTECT, related_name="assessment_policy"
    )
    informal_every_days = models.PositiveSmallIntegerField(default=INFORMAL_EVERY_DAYS)
    # Since when how often, so that a change touches nothing that was due before it.
    rhythm = models.JSONField(default=list, blank=True)
    longest_course_m = models.FloatField(null=True, blank=True)
    concern_owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    reason = models.CharField(max_length=200)
    history = HistoricalRecords()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="assessmentpolicy_informal_possible",
                condition=Q(informal_every_days__in=[7, 14]),
                violation_error_message="Progress checks come every 7 or every 14 days.",
            ),
            within("longest_course_m", COURSE_M, table="assessmentpolicy"),
        ]

    def __str__(self) -> str:
        return "assessment policy"

    @classmethod
    def of(cls, site: Site) -> "AssessmentPolicy":
        """The site's policy, or the initial one, unsaved. Select it with the site for many."""
        own: AssessmentPolicy | None = getattr(site, "assessment_policy", None)
        return own or cls(site=site, version=0)

    @property
    def rhythm_days(self) -> list[tuple[date, int]]:
        """The rhythm as days and intervals."""
        return list(rhythm_of(self.rhythm))


class SiteTarget(VersionedModel):
    """A site's own target for a risk factor; without one the initial target stands."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="targets")
    key = models.CharField(max_length=40)
    amount = models.FloatField()
    reason = models.CharField(max_length=200)
    history = HistoricalRecords()

    class Meta:
        ordering = ["key"]
        constraints = [
            models.UniqueConstraint(
                name="sitetarget_one_a_factor",
                fields=["site", "key"],
                violation_error_message="This site already has a target for this.",
            )
        ]

    def __str__(self) -> str:
        return f"target for {self.key}"
