"""Vital signs, exercise bouts, and what staff saw on the monitor."""

from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import (
    BOUT_MINUTES,
    CYCLE_W,
    DIASTOLIC_MMHG,
    GLUCOSE_MGDL,
    GRADE_PERCENT,
    HEART_RATE_BPM,
    PVC_PER_MINUTE,
    QRS_MS,
    RPE,
    SPO2_PERCENT,
    SYSTOLIC_MMHG,
    TREADMILL_KMH,
    WEIGHT_KG,
)
from patients.constraints import within
from patients.history import ClinicalModel
from programs.attendance.models.visit import Visit


def pressure_in_order(table: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        name=f"{table}_pressure_in_order",
        condition=Q(systolic_mmhg=None, diastolic_mmhg=None)
        | Q(
            systolic_mmhg__isnull=False,
            diastolic_mmhg__isnull=False,
            systolic_mmhg__gt=F("diastolic_mmhg"),
        ),
        violation_error_message="Blood pressure needs both numbers, systolic above diastolic.",
    )


class Reading(ClinicalModel):
    """Vital signs at one moment; a repeat is a new row beside the old one."""

    class Phase(models.TextChoices):
        BEFORE = "before", "before"
        AFTER = "after", "after"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="readings")
    phase = models.CharField(max_length=8, choices=Phase)
    taken_at = models.DateTimeField()
    heart_rate_bpm = models.PositiveSmallIntegerField(null=True, blank=True)
    systolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    diastolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    spo2_percent = models.PositiveSmallIntegerField(null=True, blank=True)
    glucose_mgdl = models.FloatField(null=True, blank=True)
    weight_kg = models.FloatField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["taken_at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="reading_phase_known", condition=Q(phase__in=["before", "after"])
            ),
            within("heart_rate_bpm", HEART_RATE_BPM, table="reading"),
            within("systolic_mmhg", SYSTOLIC_MMHG, table="reading"),
            within("diastolic_mmhg", DIASTOLIC_MMHG, table="reading"),
            within("spo2_percent", SPO2_PERCENT, table="reading"),
            within("glucose_mgdl", GLUCOSE_MGDL, table="reading"),
            within("weight_kg", WEIGHT_KG, table="reading"),
            pressure_in_order("reading"),
        ]

    def __str__(self) -> str:
        return f"reading {self.phase} at {self.taken_at:%H:%M}"

    @property
    def pressure(self) -> str:
        if self.systolic_mmhg is None:
            return ""
        return f"{self.systolic_mmhg}/{self.diastolic_mmhg}"


class Bout(ClinicalModel):
    """One piece of exercise."""

    class Activity(models.TextChoices):
        TREADMILL = "treadmill", "treadmill"
        CYCLE = "cycle", "leg cycle"
        ARM = "arm", "arm cycle"
        TRACK = "track", "track walking"
        STRENGTH = "strength", "strength"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="bouts")
    place = models.PositiveSmallIntegerField()
    activity = models.CharField(max_length=12, choices=Activity)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)  # known once it is over
    speed_kmh = models.FloatField(null=True, blank=True)
    grade_percent = models.FloatField(null=True, blank=True)
    power_w = models.FloatField(null=True, blank=True)
    heart_rate_bpm = models.PositiveSmallIntegerField(null=True, blank=True)
    systolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    diastolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    rpe = models.PositiveSmallIntegerField(null=True, blank=True)
    mets = models.FloatField(null=True, blank=True)
    is_mets_in_range = models.BooleanField(default=True)
    is_withdrawn = models.BooleanField(default=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["place"]
        constraints = [
            models.UniqueConstraint(name="bout_one_a_place", fields=["visit", "place"]),
            within("minutes", BOUT_MINUTES, table="bout"),
            within("speed_kmh", TREADMILL_KMH, table="bout"),
            within("grade_percent", GRADE_PERCENT, table="bout"),
            within("power_w", CYCLE_W, table="bout"),
            within("heart_rate_bpm", HEART_RATE_BPM, table="bout"),
            within("systolic_mmhg", SYSTOLIC_MMHG, table="bout"),
            within("diastolic_mmhg", DIASTOLIC_MMHG, table="bout"),
            within("rpe", RPE, table="bout"),
            pressure_in_order("bout"),
        ]

    def __str__(self) -> str:
        return f"{self.get_activity_display()}, {self.minutes} min"


class RhythmFinding(ClinicalModel):
    """What staff saw on the monitor. The program interprets no waveform."""

    visit = models.OneToOneField(Visit, on_delete=models.PROTECT, related_name="rhythm")
    pvc_per_minute = models.PositiveSmallIntegerField(null=True, blank=True)
    has_couplets = models.BooleanField(null=True, blank=True, default=None)
    has_triplets = models.BooleanField(null=True, blank=True, default=None)
    qrs_before_ms = models.PositiveSmallIntegerField(null=True, blank=True)
    qrs_during_ms = models.PositiveSmallIntegerField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        constraints = [
            within("pvc_per_minute", PVC_PER_MINUTE, table="rhythmfinding"),
            within("qrs_before_ms", QRS_MS, table="rhythmfinding"),
            within("qrs_during_ms", QRS_MS, table="rhythmfinding"),
        ]

    def __str__(self) -> str:
        return f"rhythm of {self.visit}"
