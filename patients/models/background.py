"""Clinical background: conditions, medicines, devices, operations, allergies, precautions."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import HEART_RATE_BPM
from patients.calc.medicines import BETA_BLOCKER, classes_in
from patients.constraints import within
from patients.history import ClinicalModel, ClinicalQuerySet
from patients.models.person import Patient


class Condition(ClinicalModel):
    """A heart condition or operation with its own date, or diabetes beside it."""

    of_site = "patient__site"

    class Kind(models.TextChoices):
        MI = "mi", "heart attack"
        PCI = "pci", "stent or angioplasty"
        CABG = "cabg", "bypass surgery"
        VALVE = "valve", "valve repair or replacement"
        TRANSPLANT = "transplant", "heart or heart-lung transplant"
        STABLE_ANGINA = "stable_angina", "stable angina"
        HEART_FAILURE = "heart_failure", "heart failure"
        VAD = "vad", "ventricular assist device"
        OTHER = "other", "another heart condition"
        UNCLEAR = "unclear", "to be clarified"
        DIABETES = "diabetes", "diabetes"

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
                        "vad",
                        "other",
                        "unclear",
                        "diabetes",
                    ]
                ),
            )
        ]

    def __str__(self) -> str:
        return self.get_kind_display()

    @classmethod
    def of_the_heart(cls) -> list[tuple[str, str]]:
        """Kinds that somebody may be referred for."""
        return [(value, str(label)) for value, label in cls.Kind.choices if value != "diabetes"]


class MedicineQuerySet(ClinicalQuerySet):
    def has_beta_blocker(self, patient_id: int) -> bool:
        """Whether one is on record; that none is recorded does not say that none is taken."""
        taken = self.filter(patient=patient_id, stopped_on=None)
        return any(
            BETA_BLOCKER in {drug_class, *classes_in(name)}
            for name, drug_class in taken.values_list("name", "drug_class")
        )


class Medicine(ClinicalModel):
    of_site = "patient__site"

    class DrugClass(models.TextChoices):
        BETA_BLOCKER = "beta_blocker", "beta-blocker"
        NITRATE = "nitrate", "nitrate"
        INSULIN = "insulin", "insulin"
        SECRETAGOGUE = "secretagogue", "insulin secretagogue"
        GLUCOSE_LOWERING = "glucose_lowering", "another that lowers glucose"
        ANTICOAGULANT = "anticoagulant", "anticoagulant"
        ANTIPLATELET = "antiplatelet", "antiplatelet"
        ACE_ARB = "ace_arb", "ACE inhibitor or ARB"
        CALCIUM = "calcium", "calcium channel blocker"
        DIURETIC = "diuretic", "diuretic"
        STATIN = "statin", "statin or other lipid drug"
        ANTIARRHYTHMIC = "antiarrhythmic", "antiarrhythmic"
        BRONCHODILATOR = "bronchodilator", "bronchodilator"
        OTHER = "other", "other"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="medicines")
    name = models.CharField(max_length=120)
    drug_class = models.CharField("class", max_length=16, choices=DrugClass)
    started_on = models.DateField("started", null=True, blank=True)
    stopped_on = models.DateField("stopped", null=True, blank=True)
    history = HistoricalRecords()

    objects: ClassVar[Any] = MedicineQuerySet.as_manager()

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
    of_site = "patient__site"

    class Kind(models.TextChoices):
        PACEMAKER = "pacemaker", "pacemaker"
        ICD = "icd", "implanted defibrillator (ICD)"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="devices")
    kind = models.CharField(max_length=12, choices=Kind)
    implanted_on = models.DateField("implanted", null=True, blank=True)
    removed_on = models.DateField("removed or switched off", null=True, blank=True)
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


class Procedure(ClinicalModel):
    """An operation or catheter procedure, with the way in: that is what precautions follow."""

    of_site = "patient__site"

    class Kind(models.TextChoices):
        CABG = "cabg", "bypass surgery"
        VALVE = "valve", "valve surgery"
        TRANSPLANT = "transplant", "transplant"
        PCI = "pci", "stent or angioplasty"
        CATHETER_VALVE = "tavi", "catheter valve"
        DEVICE = "device", "device implant"
        OTHER = "other", "other"

    class Access(models.TextChoices):
        STERNUM = "sternum", "sternotomy"
        CHEST = "chest", "thoracotomy"
        FEMORAL = "femoral", "groin artery or vein"
        RADIAL = "radial", "wrist artery"
        POCKET = "pocket", "device pocket below the collarbone"
        OTHER = "other", "other"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="procedures")
    kind = models.CharField(max_length=12, choices=Kind)
    performed_on = models.DateField("performed")
    access = models.CharField("access", max_length=12, choices=Access)
    note = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-performed_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.get_access_display()}"


class Allergy(ClinicalModel):
    of_site = "patient__site"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="allergies")
    substance = models.CharField(max_length=120)
    reaction = models.CharField(max_length=120, blank=True)
    refuted_on = models.DateField("refuted", null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["substance", "pk"]
        verbose_name_plural = "allergies"

    def __str__(self) -> str:
        return f"{self.substance}: {self.reaction}" if self.reaction else self.substance


class Precaution(ClinicalModel):
    """A limit somebody set. Its review date prompts a person; it never lifts anything."""

    of_site = "patient__site"

    class Kind(models.TextChoices):
        STERNUM = "sternum", "sternum"
        FEMORAL = "femoral", "femoral access site"
        RADIAL = "radial", "radial access site"
        POCKET = "pocket", "device pocket"
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


class PrecautionProtocol(ClinicalModel):
    """What a site asks after an operation until a clinician says otherwise.

    Published limits differ widely and are mostly opinion (Cahalin, LaPier, Shaw 2011), so the
    words and the weeks are the site's own, with where they come from.
    """

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="protocols")
    access = models.CharField("access", max_length=12, choices=Procedure.Access)
    instruction = models.CharField(max_length=200)
    days = models.PositiveSmallIntegerField("days until a clinician reviews it")
    source = models.CharField(max_length=200)
    history = HistoricalRecords()

    class Meta:
        ordering = ["access"]
        constraints = [
            models.UniqueConstraint(
                name="precautionprotocol_one_per_access",
                fields=["site", "access"],
                violation_error_message="This site already has a protocol for this way in.",
            ),
            models.CheckConstraint(
                name="precautionprotocol_days_possible",
                condition=Q(days__gte=1, days__lte=365),
                violation_error_message="The review comes after 1 to 365 days.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_access_display()}: {self.instruction}"
