"""What a rule asked for and nobody took, and why."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.history import ClinicalModel
from programs.attendance.models.visit import Visit


class NotTaken(ClinicalModel):
    """A reading or answer that was passed by when exercise began or the session ended."""

    of_site = "visit__enrolment__patient__site"

    class Step(models.TextChoices):
        START = "start", "start"
        FINISH = "finish", "finish"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="not_taken")
    step = models.CharField(max_length=6, choices=Step)
    what = models.CharField(max_length=100)
    rule_ids = models.CharField("rules that wait for it", max_length=100)
    because = models.CharField(max_length=200)
    decided_by = models.CharField("clinician who decided", max_length=80, blank=True, default="")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["at", "pk"]
        verbose_name = "reading not taken"
        verbose_name_plural = "readings not taken"
        constraints = [
            models.UniqueConstraint(
                name="nottaken_once_a_visit",
                fields=["visit", "what"],
                violation_error_message="Why this was not taken is on record already.",
            ),
            models.CheckConstraint(
                name="nottaken_has_reason",
                condition=~Q(because=""),
                violation_error_message="Passing a reading by needs a reason.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} not taken: {self.because}"
