"""What went wrong: a time line, who was told, how it ended, and a clinician's review."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.timezone import localtime
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.history import ClinicalModel, VersionedModel
from patients.wall import clock
from programs.attendance.models.visit import Visit


class SafetyEvent(VersionedModel):
    """An event on the floor. It may be opened with nothing but its time; the rest follows."""

    of_site = "site"

    class Kind(models.TextChoices):
        EMERGENCY = "emergency", "emergency call"
        SYMPTOM = "symptom", "symptom"
        ARRHYTHMIA = "arrhythmia", "arrhythmia"
        LOW_GLUCOSE = "low_glucose", "hypoglycaemia"
        FALL = "fall", "fall"
        TRANSFER = "transfer", "transfer to hospital"
        OTHER = "other", "other"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="events")
    patient = models.ForeignKey(
        "patients.Patient", on_delete=models.PROTECT, related_name="events", null=True, blank=True
    )
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, related_name="events", null=True, blank=True
    )
    kind = models.CharField(max_length=12, choices=Kind)
    happened_at = models.DateTimeField("when it happened")
    what = models.TextField("what happened", blank=True, default="")
    told = models.CharField("who was told", max_length=200, blank=True, default="")
    outcome = models.CharField(max_length=200, blank=True, default="")
    reviewed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    reviewed_at = models.DateTimeField(null=True, blank=True)
    review = models.TextField("review", blank=True, default="")
    is_withdrawn = models.BooleanField("entered in error", default=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-happened_at", "-pk"]
        verbose_name = "event"
        permissions = [("review_event", "May review an event")]
        constraints = [
            models.CheckConstraint(
                name="safetyevent_review_whole",
                condition=Q(reviewed_at=None, reviewed_by=None)
                | (
                    Q(reviewed_at__isnull=False, reviewed_by__isnull=False)
                    & ~Q(review="")
                    & ~Q(what="")
                    & ~Q(outcome="")
                ),
                violation_error_message=(
                    "A review needs words, and an event with what happened and its outcome."
                ),
            )
        ]
        indexes = [
            models.Index(name="safetyevent_newest_idx", fields=["site", "-happened_at", "-id"]),
            models.Index(
                name="safetyevent_to_review_idx",
                fields=["site", "happened_at"],
                condition=Q(reviewed_at=None, is_withdrawn=False),
            ),
        ]

    def __str__(self) -> str:
        at = localtime(self.happened_at)
        return f"{self.get_kind_display()}, {in_words(at)}, {clock(at)}"


class EventEntry(ClinicalModel):
    """One line of an event's time line."""

    of_site = "event__site"

    event = models.ForeignKey(SafetyEvent, on_delete=models.PROTECT, related_name="entries")
    at = models.DateTimeField("at")
    words = models.CharField("what", max_length=300)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    is_withdrawn = models.BooleanField("entered in error", default=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{clock(localtime(self.at))} {self.words}"
