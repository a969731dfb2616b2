"""What is done on a referral: contact, papers, the clinician's answer on eligibility."""

from typing import Any

from django.conf import settings
from django.db import models, transaction
from django.db.models import F, Q
from django.utils import timezone
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.history import ClinicalModel
from programs.enrolment.calc import documents
from programs.enrolment.models.referral import Referral, tell


class ContactAttempt(ClinicalModel):
    of_site = "referral__patient__site"

    class How(models.TextChoices):
        PHONE = "phone", "phone"
        LETTER = "letter", "letter"
        MESSAGE = "message", "written message"
        IN_PERSON = "in_person", "in person"

    class Outcome(models.TextChoices):
        REACHED = "reached", "reached"
        MESSAGE = "message", "left a message"
        NO_ANSWER = "no_answer", "no answer"
        WRONG_NUMBER = "wrong_number", "wrong number"

    referral = models.ForeignKey(Referral, on_delete=models.PROTECT, related_name="contacts")
    at = models.DateTimeField("when", default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    how = models.CharField(max_length=12, choices=How, default=How.PHONE)
    outcome = models.CharField(max_length=16, choices=Outcome)
    note = models.CharField(max_length=200, blank=True)
    next_try_on = models.DateField("next try", null=True, blank=True)
    # The last missed session that a call during the course was about.
    missed_until = models.DateField("sessions missed until", null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-at"]

    def __str__(self) -> str:
        return f"{self.get_outcome_display()} on {in_words(timezone.localdate(self.at))}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save it, and what the referral came to, together or not at all."""
        with transaction.atomic():
            super().save(*args, **kwargs)
            tell([self.referral_id])


class ReferralDocument(ClinicalModel):
    """A paper asked for, and the day it came."""

    of_site = "referral__patient__site"

    referral = models.ForeignKey(Referral, on_delete=models.PROTECT, related_name="documents")
    kind = models.CharField(max_length=12, choices=list(documents.NAMES.items()))
    asked_on = models.DateField("requested on", null=True, blank=True)
    received_on = models.DateField("received on", null=True, blank=True)
    asked_of = models.CharField("requested from", max_length=120, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                name="referraldocument_one_of_a_kind",
                fields=["referral", "kind"],
                violation_error_message="This record is already on the list.",
            ),
            models.CheckConstraint(
                name="referraldocument_received_after_asked",
                condition=Q(asked_on=None)
                | Q(received_on=None)
                | Q(received_on__gte=F("asked_on")),
                violation_error_message="A record cannot come before it was requested.",
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class EligibilityAnswer(ClinicalModel):
    """A clinician's decision, with what the rule said at that moment."""

    of_site = "referral__patient__site"

    class Decision(models.TextChoices):
        ELIGIBLE = "eligible", "meets the rule"
        NOT_ELIGIBLE = "not_eligible", "does not meet the rule"

    referral = models.ForeignKey(Referral, on_delete=models.PROTECT, related_name="answers")
    decision = models.CharField(max_length=16, choices=Decision)
    rule_said = models.CharField(max_length=20)
    limb = models.CharField(max_length=12)
    rule_set = models.CharField(max_length=300)
    for_start_on = models.DateField()
    reason = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="eligibilityanswer_override_has_reason",
                condition=Q(decision=F("rule_said")) | ~Q(reason=""),
                violation_error_message="Deciding otherwise than the rule needs a reason.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_decision_display()} ({self.limb})"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save it, and what the referral came to, together or not at all."""
        with transaction.atomic():
            super().save(*args, **kwargs)
            tell([self.referral_id])
