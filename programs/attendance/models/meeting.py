"""A class on one day: who runs it, and whether it was opened as the rules ask."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.history import ClinicalModel
from programs.enrolment.models import ClassSlot
from programs.enrolment.models.day_totals import CountedByDay


class ClassMeeting(CountedByDay, ClinicalModel):
    """A class on one day. Nobody exercises before it is open."""

    of_site = "slot__site"

    class Presence(models.TextChoices):
        THERE = "there", "on the premises"
        VIDEO = "video", "by live audio and video"  # CY 2026 rules; never audio alone

    slot = models.ForeignKey(ClassSlot, on_delete=models.PROTECT, related_name="meetings")
    on = models.DateField()
    staff = models.ManyToManyField(
        settings.AUTH_USER_MODEL, related_name="meetings", blank=True, verbose_name="staff"
    )
    supervisor = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="supervised",
        null=True,
        blank=True,
        verbose_name="supervising physician or practitioner",
    )
    presence = models.CharField(max_length=8, choices=Presence, blank=True, default="")
    opened_at = models.DateTimeField(null=True, blank=True)
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    unmet = models.JSONField(default=list, blank=True)  # sentences, as they stood at opening
    exception = models.CharField("opened all the same because", max_length=200, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    history = HistoricalRecords(m2m_fields=[staff])

    class Meta:
        ordering = ["on", "slot__starts_at"]
        constraints = [
            models.UniqueConstraint(name="classmeeting_once", fields=["slot", "on"]),
            models.CheckConstraint(
                name="classmeeting_exception_has_reason",
                condition=Q(opened_at=None) | Q(unmet=[]) | ~Q(exception=""),
                violation_error_message="Opening in spite of something missing needs a reason.",
            ),
            models.CheckConstraint(
                name="classmeeting_closes_after_opening",
                condition=Q(closed_at=None) | Q(opened_at__isnull=False),
                violation_error_message="Only an open class is closed.",
            ),
        ]
        indexes = [models.Index(name="classmeeting_day_idx", fields=["on"])]

    def __str__(self) -> str:
        return f"{self.slot}, {in_words(self.on)}"

    @property
    def is_open(self) -> bool:
        return self.opened_at is not None
