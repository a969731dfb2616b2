"""A rule that triggered, and what was decided."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.history import ClinicalModel
from programs.attendance.calc.levels import Level
from programs.attendance.models.visit import Visit
from programs.enrolment.models.day_totals import CountedByDay


class Finding(CountedByDay, ClinicalModel):
    """A rule that triggered, with the reading and limit of that moment, and what was decided."""

    of_site = "visit__enrolment__patient__site"
    of_day = "visit.on"
    of_class = "visit.meeting.slot"

    class Decision(models.TextChoices):
        PROCEED = "proceed", "go on"
        HOLD = "hold", "hold session"
        STOP = "stop", "stop exercise"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="findings")
    rule_id = models.CharField(max_length=8)
    about = models.CharField(max_length=20, blank=True, default="")  # tells rules of one id apart
    level = models.PositiveSmallIntegerField(choices=[(lvl.value, lvl.word) for lvl in Level])
    value = models.FloatField()
    limit = models.FloatField()
    sentence = models.CharField(max_length=250)
    source = models.CharField(max_length=200)
    origin = models.CharField("whose limit", max_length=60, default="program default")
    is_emergency = models.BooleanField(default=False)
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
        permissions = [("decide_hold", "May decide about a hold")]
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
        indexes = [
            models.Index(
                name="finding_unanswered_idx",
                fields=["visit", "level"],
                condition=Q(answered_at=None, cleared_at=None),
            )
        ]

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


class Interruption(ClinicalModel):
    """A visit held or stopped: what was seen and done, who was told, when the person may return.

    It stands on the person's next visit until somebody confirms the return (E-31).
    """

    of_site = "visit__enrolment__patient__site"

    class Kind(models.TextChoices):
        HOLD = "hold", "held"
        STOP = "stop", "stopped"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="interruptions")
    kind = models.CharField(max_length=4, choices=Kind)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    seen = models.CharField("what was seen", max_length=300, blank=True, default="")
    done = models.CharField("what was done", max_length=300, blank=True, default="")
    told = models.CharField("who was told", max_length=120, blank=True, default="")
    outcome = models.CharField(max_length=200, blank=True, default="")
    return_condition = models.CharField("may return when", max_length=200, blank=True, default="")
    written_at = models.DateTimeField(null=True, blank=True)
    is_taken_back = models.BooleanField(default=False)  # the visit went on after all
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    settled_words = models.CharField("return confirmed", max_length=200, blank=True, default="")
    history = HistoricalRecords()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="interruption_written_whole",
                condition=Q(written_at=None)
                | (~Q(seen="") & ~Q(done="") & ~Q(told="") & ~Q(return_condition="")),
                violation_error_message=(
                    "A hold or stop needs what was seen and done, who was told, and when the "
                    "person may return."
                ),
            ),
            models.CheckConstraint(
                name="interruption_settled_whole",
                condition=Q(settled_at=None, settled_by=None)
                | (Q(settled_at__isnull=False, settled_by__isnull=False) & ~Q(settled_words="")),
                violation_error_message="Confirming a return needs words.",
            ),
        ]
        indexes = [
            models.Index(
                name="interruption_unsettled_idx",
                fields=["visit"],
                condition=Q(settled_at=None, is_taken_back=False),
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {in_words(self.visit.on)}"

    @property
    def stands(self) -> bool:
        return self.settled_at is None and not self.is_taken_back
