"""The dose in force and the treatment plan; every version is kept."""

from datetime import date
from typing import Any, ClassVar

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models, transaction
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import BOUT_MINUTES, CYCLE_W, HEART_RATE_BPM, RPE, TREADMILL_KMH
from patients.constraints import within
from patients.history import ClinicalModel, ClinicalQuerySet, VersionedModel
from programs.enrolment.models import Enrolment, ReferralTotals
from programs.enrolment.models.day_totals import forget_from
from programs.prescription.calc.intensity import heart_rate_words, rpe_words
from programs.prescription.calc.lifts import Lift, lifts_of
from programs.prescription.calc.signature import SIGN_EVERY_DAYS
from programs.prescription.dose_fields import DoseParts, part_constraints
from programs.prescription.site_models import DosePolicy, SiteMachine
from programs.prescription.step_models import StepAnswer

__all__ = ["DosePolicy", "Prescription", "SiteMachine", "StepAnswer", "TreatmentPlan"]


class PrescriptionQuerySet(ClinicalQuerySet):
    def in_force(self, on: date | None = None) -> "PrescriptionQuerySet":
        """Those by which people exercise on a day, one a course; without a day the last written,
        which may begin later."""
        if on is None:
            return self.filter(is_waiting=False, replaced_on=None)
        begun = self.filter(is_waiting=False, valid_from__lte=on)
        return begun.filter(Q(replaced_on=None) | Q(replaced_on__gt=on))

    def waiting(self) -> "PrescriptionQuerySet":
        """Beyond what is signed; in force once a physician signs."""
        return self.filter(is_waiting=True, replaced_on=None)

    def to_sign(self) -> "PrescriptionQuerySet":
        """What a plan is signed with, first of each course: the dose that waits for a signature,
        else the one in force."""
        return self.filter(replaced_on=None).order_by("enrolment", "-is_waiting", "-pk")

    def signed(self) -> "PrescriptionQuerySet":
        """Those a physician signed, the latest first."""
        return self.filter(signed_at__isnull=False).order_by("-signed_at", "-pk")


class Prescription(DoseParts, ClinicalModel):
    """An exercise prescription. A new one replaces the old; none is edited in place."""

    of_site = "enrolment__patient__site"

    class Method(models.TextChoices):
        RESERVE = "reserve", "heart-rate reserve, tested"
        UPTAKE = "uptake", "oxygen-uptake reserve, tested"
        METS = "mets", "METs of a walk, with RPE"
        REST = "rest", "rest +20 to +30, with RPE"
        EXERTION = "exertion", "perceived exertion"
        TALK = "talk", "talk test, with RPE"

    # What may still change of a stored one: how it is replaced and signed.
    MOVES = frozenset({"replaced_on", "valid_from", "is_waiting", "signed_by_id", "signed_at"})

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="prescriptions")
    method = models.CharField(max_length=10, choices=Method)
    valid_from = models.DateField()
    replaced_on = models.DateField(null=True, blank=True)
    resting_bpm = models.PositiveSmallIntegerField(null=True, blank=True)
    peak_bpm = models.PositiveSmallIntegerField(null=True, blank=True)
    tested_on = models.DateField(null=True, blank=True)
    # Why a test from before the event, or older than a year, still counts.
    tested_because = models.CharField(max_length=200, blank=True, default="")
    low_share = models.FloatField(null=True, blank=True)
    high_share = models.FloatField(null=True, blank=True)
    low_bpm = models.PositiveSmallIntegerField(null=True, blank=True)
    high_bpm = models.PositiveSmallIntegerField(null=True, blank=True)
    upper_limit_bpm = models.PositiveSmallIntegerField(null=True, blank=True)
    upper_limit_reason = models.CharField(max_length=80, blank=True)
    rpe_low = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(6), MaxValueValidator(20)]
    )
    rpe_high = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(6), MaxValueValidator(20)]
    )
    target_mets = models.FloatField(null=True, blank=True)
    treadmill_kmh = models.FloatField(null=True, blank=True)
    treadmill_grade_percent = models.FloatField(null=True, blank=True)
    cycle_w = models.FloatField(null=True, blank=True)
    # Which workloads lie outside the span their equation was validated in, in words.
    outside_range = models.CharField(max_length=60, blank=True)
    minutes = models.PositiveSmallIntegerField()
    per_week = models.PositiveSmallIntegerField(default=3)
    note = models.TextField(blank=True)
    formula_version = models.CharField(max_length=40)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    signed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    signed_at = models.DateTimeField(null=True, blank=True)
    history = HistoricalRecords()

    objects: ClassVar[Any] = PrescriptionQuerySet.as_manager()

    class Meta:
        ordering = ["-valid_from", "-pk"]
        constraints = [
            models.UniqueConstraint(
                name="prescription_one_in_force",
                fields=["enrolment"],
                condition=Q(replaced_on=None, is_waiting=False),
                violation_error_message="Another prescription is in force.",
            ),
            models.UniqueConstraint(
                name="prescription_one_waits",
                fields=["enrolment"],
                condition=Q(replaced_on=None, is_waiting=True),
                violation_error_message="Another prescription awaits signature.",
            ),
            *part_constraints(),
            *[
                within(name, HEART_RATE_BPM, table="prescription")
                for name in ["resting_bpm", "peak_bpm", "low_bpm", "high_bpm", "upper_limit_bpm"]
            ],
            within("rpe_low", RPE, table="prescription"),
            within("rpe_high", RPE, table="prescription"),
            within("treadmill_kmh", TREADMILL_KMH, table="prescription"),
            within("cycle_w", CYCLE_W, table="prescription"),
            within("minutes", BOUT_MINUTES, table="prescription"),
            models.CheckConstraint(
                name="prescription_rpe_in_order",
                condition=Q(rpe_low__lte=F("rpe_high")),
                violation_error_message="The lower RPE must not exceed the upper.",
            ),
            models.CheckConstraint(
                name="prescription_rates_in_order",
                condition=Q(low_bpm=None, high_bpm=None)
                | Q(low_bpm__isnull=False, high_bpm__isnull=False, low_bpm__lte=F("high_bpm")),
                violation_error_message="The lower heart rate must not exceed the upper.",
            ),
            models.CheckConstraint(
                name="prescription_below_upper_limit",
                condition=Q(high_bpm=None)
                | Q(upper_limit_bpm=None)
                | Q(high_bpm__lte=F("upper_limit_bpm")),
                violation_error_message="The heart-rate range exceeds the upper limit.",
            ),
            models.CheckConstraint(
                name="prescription_reserve_has_test",
                condition=~Q(method="reserve")
                | Q(
                    resting_bpm__isnull=False,
                    peak_bpm__isnull=False,
                    low_bpm__isnull=False,
                    tested_on__isnull=False,
                ),
                violation_error_message="Heart-rate reserve needs a tested resting and peak rate.",
            ),
            models.CheckConstraint(
                name="prescription_signature_whole",
                condition=Q(signed_by=None, signed_at=None)
                | Q(signed_by__isnull=False, signed_at__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"prescription of {self.valid_from}"

    def clean(self) -> None:
        """Refuse to edit what was prescribed; the next one takes its place."""
        super().clean()
        if self.pk is None:
            return
        stored = Prescription.objects.get(pk=self.pk)
        kept = [f.attname for f in self._meta.concrete_fields if f.attname not in self.MOVES]
        if any(getattr(self, name) != getattr(stored, name) for name in kept):
            raise ValidationError("A prescription is never edited; write the next one.")

    @property
    def needs_signature(self) -> bool:
        """Neither signed nor inside signed limits."""
        return self.signed_at is None and self.covered_by_id is None

    @property
    def lift_rows(self) -> tuple[Lift, ...]:
        return lifts_of(self.lifts)

    def lifts_on(self, on: date) -> bool:
        """Resistance is prescribed and has begun by a day."""
        return bool(self.strength) and (self.strength_from is None or self.strength_from <= on)

    @property
    def heart_rate_words(self) -> str:
        return heart_rate_words(self.low_bpm, self.high_bpm)

    @property
    def rpe_words(self) -> str:
        return rpe_words(self.rpe_low, self.rpe_high)


class TreatmentPlan(VersionedModel):
    """One version of the individualized treatment plan; signing freezes it.

    Its parts by core component are in ``content`` (programs/review/calc/parts.py), with what was
    signed beside them once it is. A version from before has none, and its four texts instead.
    """

    of_site = "enrolment__patient__site"

    class How(models.TextChoices):
        SCREEN = "screen", "on screen"
        PAPER = "paper", "on paper"

    class Back(models.TextChoices):
        DOSE = "dose", "the dose should be other than written"
        RESULT = "result", "a result is missing or wrong"
        GOAL = "goal", "a goal or a date needs work"
        SEE = "see", "the person must be seen first"
        OTHER = "other", "another reason"

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="plans")
    goals = models.TextField("the person’s own goals", blank=True)
    exercise = models.TextField(blank=True)
    risk_factors = models.TextField("risk factors and education in general", blank=True)
    psychosocial = models.TextField("psychosocial plan", blank=True)
    content = models.JSONField(default=dict, blank=True)
    prepared_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    prepared_at = models.DateTimeField(auto_now_add=True)
    signed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    signed_on = models.DateField(null=True, blank=True)  # the site's own calendar day
    signed_how = models.CharField(max_length=8, choices=How, blank=True, default="")
    scan_reference = models.CharField("where the scan is", max_length=120, blank=True, default="")
    # SHA-256 of the text that was signed: programs/review/calc/canonical.py says which.
    digest = models.CharField(max_length=64, blank=True, default="", editable=False)
    sent_back_at = models.DateTimeField(null=True, blank=True)
    sent_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    sent_back_because = models.CharField(max_length=8, choices=Back, blank=True, default="")
    sent_back_words = models.CharField(max_length=300, blank=True, default="")
    history = HistoricalRecords()

    class Meta:
        ordering = ["-prepared_at", "-pk"]
        permissions = [
            ("add_plan", "May prepare a plan"),
            ("sign_plan", "May sign a plan"),
            ("view_uncovered", "May see sessions given without a valid plan"),
        ]
        indexes = [models.Index(fields=["enrolment", "-signed_on"])]
        constraints = [
            models.UniqueConstraint(
                name="treatmentplan_one_draft",
                fields=["enrolment"],
                condition=Q(signed_on=None),
                violation_error_message="A draft of this plan is already awaiting signature.",
            ),
            models.CheckConstraint(
                name="treatmentplan_signature_whole",
                condition=Q(signed_by=None, signed_on=None)
                | Q(signed_by__isnull=False, signed_on__isnull=False),
            ),
            models.CheckConstraint(
                name="treatmentplan_sealed_when_signed",
                condition=Q(digest="", signed_how="")
                | (~Q(digest="") & ~Q(signed_how="") & Q(signed_on__isnull=False)),
                violation_error_message="A digest belongs to a signature, with how it was given.",
            ),
            models.CheckConstraint(
                name="treatmentplan_paper_is_found",
                condition=~Q(signed_how="paper") | ~Q(scan_reference=""),
                violation_error_message="A signature on paper needs the reference of its scan.",
            ),
            models.CheckConstraint(
                name="treatmentplan_sent_back_whole",
                condition=Q(sent_back_at=None, sent_back_by=None, sent_back_because="")
                | (
                    Q(sent_back_at__isnull=False, sent_back_by__isnull=False)
                    & ~Q(sent_back_because="")
                ),
                violation_error_message="Sending back needs who, when and why.",
            ),
        ]

    def __str__(self) -> str:
        return f"treatment plan of {self.enrolment.patient}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save the plan; once it is signed, what counts by signatures counts again."""
        with transaction.atomic(savepoint=False):
            super().save(*args, **kwargs)
            if self.signed_on is not None:
                ReferralTotals.objects.forget(pk=self.enrolment.referral_id)
                forget_from(self.signed_on, SIGN_EVERY_DAYS)
