"""What the team decided on a proposed step of a dose."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import BOUT_MINUTES
from patients.constraints import within
from patients.history import ClinicalModel
from programs.enrolment.models import Enrolment
from programs.prescription.calc.lifts import Lift, lifts_of


class StepAnswer(ClinicalModel):
    """A proposed step as it was shown, and what came of it."""

    of_site = "enrolment__patient__site"

    class Answer(models.TextChoices):
        TAKEN = "taken", "taken"
        CHANGED = "changed", "taken with changes"
        LEFT = "left", "not now"

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="step_answers")
    on = models.DateField()
    step = models.CharField(max_length=12)
    minutes = models.PositiveSmallIntegerField()
    mets = models.FloatField(null=True, blank=True)
    strength = models.CharField(max_length=12, blank=True, default="")
    lifts = models.JSONField(default=list, blank=True)
    reasons = models.TextField()
    formula_version = models.CharField(max_length=40)
    answer = models.CharField(max_length=8, choices=Answer)
    because = models.CharField(max_length=200, blank=True, default="")
    prescription = models.ForeignKey(
        "prescription.Prescription",
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            within("minutes", BOUT_MINUTES, table="stepanswer"),
            models.CheckConstraint(
                name="stepanswer_whole",
                condition=(Q(answer="left", prescription=None) & ~Q(because=""))
                | Q(answer__in=["taken", "changed"], prescription__isnull=False),
                violation_error_message="Say why not now.",
            ),
        ]

    @property
    def lift_rows(self) -> tuple[Lift, ...]:
        return lifts_of(self.lifts)

    def __str__(self) -> str:
        return f"step of {self.on}"
