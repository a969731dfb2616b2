"""Entry screen for contraindications, risk stratification, and what a class of risk changes."""

from datetime import date
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.timezone import localdate
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.history import ClinicalModel, VersionedModel
from patients.models import Device, Patient
from patients.prepared import Prepared
from programs.enrolment.calc import risk, screen

RISK_CHOICES = [(str(c), f"{c} risk") for c in risk.RiskClass]


class EntryScreen(ClinicalModel):
    """Every contraindication asked once before the program: yes, no or unknown."""

    of_site = "patient__site"

    class Decision(models.TextChoices):
        MAY_START = "may_start", "may start"
        NOT_YET = "not_yet", "not yet"

    patient = models.ForeignKey(
        "patients.Patient", on_delete=models.PROTECT, related_name="entry_screens"
    )
    answers = models.JSONField(default=dict, blank=True)  # criterion id -> True, False or a number
    found = models.CharField(max_length=8, choices=[(str(f), str(f)) for f in screen.Found])
    findings = models.JSONField(default=list, blank=True)  # sentences, worst first
    unanswered = models.JSONField(default=list, blank=True)  # criterion ids
    decision = models.CharField(max_length=12, choices=Decision)
    reason = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="entryscreen_start_despite_something_has_reason",
                condition=Q(found="nothing") | Q(decision="not_yet") | ~Q(reason=""),
                violation_error_message=(
                    "Starting in spite of a finding or an open question needs a reason."
                ),
            )
        ]

    @property
    def told(self) -> list[screen.Told]:
        """What was found, each with the criterion it comes from."""
        return [screen.told(sentence) for sentence in self.findings]

    @property
    def open_questions(self) -> list[str]:
        """What nobody answered, by what it asks."""
        return [screen.NAMES.get(key, key) for key in self.unanswered]

    def __str__(self) -> str:
        return f"{self.get_decision_display()} on {in_words(localdate(self.at))}"


def _happened(patient: int, since: date) -> Any:
    event = Q(conditions__happened_on__gt=since) | Q(procedures__performed_on__gt=since)
    return Patient.objects.filter(event, pk=patient).order_by().values_list("pk")[:1]


def _devices(patient: int) -> Any:
    return Device.objects.filter(patient=patient, removed_on=None)


# Asked at the head of every page about a person.
_HAPPENED = Prepared(_happened, patient=int, since=date)
_DEVICES = Prepared(_devices, patient=int)


class RiskStratification(ClinicalModel):
    """A class of risk with what decided it. Never changed: a later one takes its place."""

    of_site = "patient__site"

    class Occasion(models.TextChoices):
        ENTRY = "entry", "at entry"
        EVENT = "event", "after an event"
        SYMPTOMS = "symptoms", "symptoms changed"
        TEST = "test", "new test result"
        DEVICE = "device", "new device"
        OTHER = "other", "other"

    patient = models.ForeignKey(
        "patients.Patient", on_delete=models.PROTECT, related_name="stratifications"
    )
    occasion = models.CharField(max_length=12, choices=Occasion, default=Occasion.ENTRY)
    answers = models.JSONField(default=dict, blank=True)
    computed = models.CharField(max_length=8, choices=RISK_CHOICES)
    decided = models.CharField("class", max_length=8, choices=RISK_CHOICES)
    deciding = models.JSONField(default=list, blank=True)  # sentences
    missing = models.JSONField(default=list, blank=True)  # what was not answered
    remarks = models.JSONField(default=list, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-at", "-pk"]
        permissions = [("stratify", "May stratify risk")]
        constraints = [
            models.CheckConstraint(
                name="riskstratification_override_has_reason",
                condition=Q(decided=F("computed")) | ~Q(reason=""),
                violation_error_message="Deciding otherwise than the criteria needs a reason.",
            ),
            models.CheckConstraint(
                name="riskstratification_class_known",
                condition=Q(decided__in=["low", "moderate", "high"]),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_decided_display()}, {in_words(localdate(self.at))}"

    def why_again(self) -> str:
        """Why the class should be looked at again; "" when nothing happened since."""
        patient = self.patient
        since = self.at.astimezone(patient.site.now().tzinfo).date()
        if _HAPPENED(patient=patient.pk, since=since):
            return "There was a new event since."
        devices = _DEVICES(patient=patient.pk)
        is_new = any(d.implanted_on and d.implanted_on > since for d in devices)
        has_icd = any(d.kind == "icd" for d in devices)
        if is_new or (has_icd and not self.answers.get("icd")):
            return "A device was added since."
        return ""


class SupervisionPolicy(VersionedModel):
    """What a class of risk means at a site: supervised and ECG-monitored sessions."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="supervision")
    risk_class = models.CharField(max_length=8, choices=RISK_CHOICES)
    supervised_low = models.PositiveSmallIntegerField("supervised sessions, from")
    supervised_high = models.PositiveSmallIntegerField("to")
    supervised_days = models.PositiveSmallIntegerField("or days")
    ecg_low = models.PositiveSmallIntegerField("sessions with ECG, from")
    ecg_high = models.PositiveSmallIntegerField("to (ECG)")
    source = models.CharField(max_length=200)
    history = HistoricalRecords()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                name="supervisionpolicy_one_per_class", fields=["site", "risk_class"]
            ),
            models.CheckConstraint(
                name="supervisionpolicy_spans_in_order",
                condition=Q(supervised_low__lte=F("supervised_high"))
                & Q(ecg_low__lte=F("ecg_high")),
                violation_error_message="The first number of a span is the smaller one.",
            ),
            models.CheckConstraint(
                name="supervisionpolicy_bounds",
                condition=Q(supervised_high__lte=72, ecg_high__lte=72, supervised_days__lte=252)
                & Q(supervised_low__gte=1),
                violation_error_message="At most 72 sessions and 252 days, at least 1 session.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_risk_class_display()} at {self.site}"
