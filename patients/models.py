"""The person: identity, clinical background, and who looked or asked twice."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import HEART_RATE_BPM
from patients.calc.person import Person
from patients.constraints import within
from patients.history import ClinicalModel, ClinicalQuerySet, VersionedModel


class PatientQuerySet(ClinicalQuerySet):
    def visible_to(self, user) -> "PatientQuerySet":
        """Patients of the sites this user works at."""
        return self.filter(site__in=user.site_ids())

    def matching(self, words: str) -> "PatientQuerySet":
        """Patients whose name or record number holds every word."""
        found = self
        for word in words.split():
            found = found.filter(
                Q(given_name__icontains=word)
                | Q(family_name__icontains=word)
                | Q(record_number__icontains=word)
            )
        return found


class Patient(VersionedModel):
    class Sex(models.TextChoices):
        FEMALE = "female", "female"
        MALE = "male", "male"
        UNRECORDED = "", "not recorded"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="patients")
    record_number = models.CharField(max_length=40, blank=True)
    given_name = models.CharField(max_length=80)
    family_name = models.CharField(max_length=80)
    born_on = models.DateField("born")
    sex = models.CharField(
        "sex for reference equations", max_length=8, choices=Sex, blank=True, default=""
    )
    phone = models.CharField(max_length=40, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    objects: ClassVar[Any] = PatientQuerySet.as_manager()

    class Meta:
        ordering = ["family_name", "given_name", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="patient_one_record_number",
                fields=["site", "record_number"],
                condition=~Q(record_number=""),
                violation_error_message="This record number is already in use at this site.",
            ),
            models.CheckConstraint(
                name="patient_born_in_living_memory",
                condition=Q(born_on__gte="1900-01-01"),
                violation_error_message="The birth date must be after 1900.",
            ),
            models.CheckConstraint(
                name="patient_sex_known_word", condition=Q(sex__in=["female", "male", ""])
            ),
        ]
        indexes = [models.Index(fields=["site", "family_name", "given_name"])]

    def __str__(self) -> str:
        return f"{self.given_name} {self.family_name}"

    @property
    def person(self) -> Person:
        """What the calculations may know of this patient."""
        return Person(born_on=self.born_on, sex=self.sex)


class Condition(ClinicalModel):
    """A heart condition or operation with its own date."""

    class Kind(models.TextChoices):
        MI = "mi", "heart attack"
        PCI = "pci", "stent or angioplasty"
        CABG = "cabg", "bypass surgery"
        VALVE = "valve", "valve repair or replacement"
        TRANSPLANT = "transplant", "heart or heart-lung transplant"
        STABLE_ANGINA = "stable_angina", "stable angina"
        HEART_FAILURE = "heart_failure", "heart failure"
        UNCLEAR = "unclear", "to be clarified"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="conditions")
    kind = models.CharField(max_length=16, choices=Kind)
    happened_on = models.DateField("event date", null=True, blank=True)
    icd10 = models.CharField("ICD-10-CM code", max_length=10, blank=True)
    wording = models.CharField("wording received", max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-happened_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="condition_kind_known",
                condition=Q(
                    kind__in=[
                        "mi",
                        "pci",
                        "cabg",
                        "valve",
                        "transplant",
                        "stable_angina",
                        "heart_failure",
                        "unclear",
                    ]
                ),
            )
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class Medicine(ClinicalModel):
    class DrugClass(models.TextChoices):
        BETA_BLOCKER = "beta_blocker", "beta-blocker"
        NITRATE = "nitrate", "nitrate"
        INSULIN = "insulin", "insulin"
        SECRETAGOGUE = "secretagogue", "insulin secretagogue"
        ANTICOAGULANT = "anticoagulant", "anticoagulant"
        OTHER = "other", "other"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="medicines")
    name = models.CharField(max_length=120)
    drug_class = models.CharField("class", max_length=16, choices=DrugClass)
    started_on = models.DateField("started", null=True, blank=True)
    stopped_on = models.DateField("stopped", null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                name="medicine_stops_after_start",
                condition=Q(started_on=None)
                | Q(stopped_on=None)
                | Q(stopped_on__gte=F("started_on")),
                violation_error_message="A medicine cannot stop before it starts.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Device(ClinicalModel):
    class Kind(models.TextChoices):
        PACEMAKER = "pacemaker", "pacemaker"
        ICD = "icd", "implanted defibrillator (ICD)"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="devices")
    kind = models.CharField(max_length=12, choices=Kind)
    detection_bpm = models.PositiveSmallIntegerField(
        "lowest detection rate, /min", null=True, blank=True
    )
    detection_read_on = models.DateField("rate read on", null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["pk"]
        constraints = [
            within("detection_bpm", HEART_RATE_BPM, table="device"),
            models.CheckConstraint(
                name="device_rate_has_its_date",
                condition=Q(detection_bpm=None) | Q(detection_read_on__isnull=False),
                violation_error_message="A detection rate needs the date it was read.",
            ),
        ]

    def __str__(self) -> str:
        rate = f", detects from {self.detection_bpm} /min" if self.detection_bpm else ""
        return f"{self.get_kind_display()}{rate}"


class Precaution(ClinicalModel):
    """A limit somebody set. Its review date prompts a person; it never lifts anything."""

    class Kind(models.TextChoices):
        STERNUM = "sternum", "sternum"
        FEMORAL = "femoral", "femoral access site"
        RADIAL = "radial", "radial access site"
        OTHER = "other", "other"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="precautions")
    kind = models.CharField(max_length=12, choices=Kind)
    instruction = models.CharField(max_length=200)
    review_on = models.DateField("review on", null=True, blank=True)
    lifted_on = models.DateField("lifted on", null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.instruction}"


class AuditEvent(models.Model):
    """What a version of a row cannot say: looks, exports, refusals, signatures, sign-ins."""

    class Kind(models.TextChoices):
        LOOK = "look", "looked at"
        EXPORT = "export", "exported"
        REFUSAL = "refusal", "was refused"
        SIGNATURE = "signature", "signed"
        SIGN_IN = "sign_in", "signed in"
        SIGN_OUT = "sign_out", "signed out"
        IMPORT = "import", "imported"

    at = models.DateTimeField(auto_now_add=True)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, null=True, related_name="+")
    what = models.CharField(max_length=200)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["patient", "-at"]), models.Index(fields=["-at"])]

    def __str__(self) -> str:
        return f"{self.user} {self.get_kind_display()} {self.what}"


class Submission(models.Model):
    """A form already taken in; its key makes a repeated submission harmless."""

    key = models.UUIDField(primary_key=True)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return str(self.key)
