"""A rule that triggered, and what was decided."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.history import ClinicalModel
from programs.attendance.calc.rules import Level
from programs.attendance.models.visit import Visit


class Finding(ClinicalModel):
    """A rule that triggered, with the reading and limit of that moment, and what was decided."""

    class Decision(models.TextChoices):
        PROCEED = "proceed", "go on"
        HOLD = "hold", "hold today"
        STOP = "stop", "stop exercise"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="findings")
    rule_id = models.CharField(max_length=8)
    level = models.PositiveSmallIntegerField(choices=[(lvl.value, lvl.word) for lvl in Level])
    value = models.FloatField()
    limit = models.FloatField()
    sentence = models.CharField(max_length=250)
    source = models.CharField(max_length=200)
    raised_at = models.DateTimeField(auto_now_add=True)
    cleared_at = models.DateTimeField(null=True, blank=True)  # a later reading does not trigger
    decision = models.CharField(max_length=8, choices=Decision, blank=True, default="")
    reason = models.CharField(max_length=200, blank=True)
    told = models.CharField("who was told", max_length=80, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    answered_at = models.DateTimeField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-level", "rule_id", "pk"]
        constraints = [
            models.CheckConstraint(
                name="finding_answer_whole",
                condition=Q(decision="", by=None, answered_at=None)
                | (
                    ~Q(decision="") & ~Q(reason="") & Q(by__isnull=False, answered_at__isnull=False)
                ),
                violation_error_message="A decision needs a reason.",
            ),
        ]
        indexes = [models.Index(fields=["visit", "answered_at"])]

    def __str__(self) -> str:
        return f"{self.rule_id}: {self.sentence}"

    @property
    def level_word(self) -> str:
        return Level(self.level).word

    @property
    def is_open(self) -> bool:
        return not self.decision and self.cleared_at is None

    @property
    def bars_start(self) -> bool:
        """Nobody starts over an unanswered hold or stop."""
        return self.is_open and self.level >= Level.HOLD
