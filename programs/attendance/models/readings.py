"""Vital signs at one moment, and exercise bouts."""

from django.db import models
from django.db.models import F, Q
from django.utils.timezone import localtime
from simple_history.models import HistoricalRecords

from patients.calc.limits import (
    ANGINA_GRADE,
    BOUT_MINUTES,
    CYCLE_W,
    DIASTOLIC_MMHG,
    DYSPNOEA_GRADE,
    GLUCOSE_MGDL,
    GRADE_PERCENT,
    HEART_RATE_BPM,
    IN_RESERVE,
    LOAD_KG,
    REPETITIONS,
    RPE,
    SETS,
    SHOWN_METS,
    SPO2_PERCENT,
    STEP_HEIGHT_CM,
    STEPS_PER_MINUTE,
    SYSTOLIC_MMHG,
    TEMPERATURE_C,
    TREADMILL_KMH,
    WEIGHT_KG,
)
from patients.constraints import within
from patients.history import ClinicalModel
from patients.models import BodyWeight
from patients.wall import clock
from programs.attendance.calc.quantities import Glucose
from programs.attendance.models.visit import Visit


def pressure_in_order(table: str, which: str = "") -> models.CheckConstraint:
    upper, lower = f"{which}systolic_mmhg", f"{which}diastolic_mmhg"
    both = {f"{upper}__isnull": False, f"{lower}__isnull": False, f"{upper}__gt": F(lower)}
    return models.CheckConstraint(
        name=f"{table}_{which}pressure_in_order",
        condition=Q(**{upper: None, lower: None}) | Q(**both),
        violation_error_message="Blood pressure needs both numbers, systolic above diastolic.",
    )


class Reading(ClinicalModel):
    """Vital signs at one moment; a repeat is a new row beside the old one."""

    of_site = "visit__enrolment__patient__site"

    class Phase(models.TextChoices):
        BEFORE = "before", "before"
        DURING = "during", "during"
        AFTER = "after", "after"
        RECOVERY = "recovery", "recovery"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="readings")
    phase = models.CharField(max_length=8, choices=Phase)
    taken_at = models.DateTimeField()
    heart_rate_bpm = models.PositiveSmallIntegerField(null=True, blank=True)
    systolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    diastolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    spo2_percent = models.PositiveSmallIntegerField(null=True, blank=True)
    glucose_mgdl = models.FloatField(null=True, blank=True)
    glucose_is_mmoll = models.BooleanField("meter shows mmol/L", default=False)
    weight_kg = models.FloatField(null=True, blank=True)
    body_weight = models.OneToOneField(  # the same as the person's weight of that day
        BodyWeight, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    standing_systolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    standing_diastolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    temperature_c = models.FloatField(null=True, blank=True)
    rpe = models.PositiveSmallIntegerField(null=True, blank=True)
    angina = models.PositiveSmallIntegerField("angina grade", null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["taken_at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="reading_phase_known",
                condition=Q(phase__in=["before", "during", "after", "recovery"]),
            ),
            within("heart_rate_bpm", HEART_RATE_BPM, table="reading"),
            within("systolic_mmhg", SYSTOLIC_MMHG, table="reading"),
            within("diastolic_mmhg", DIASTOLIC_MMHG, table="reading"),
            within("spo2_percent", SPO2_PERCENT, table="reading"),
            within("glucose_mgdl", GLUCOSE_MGDL, table="reading"),
            within("weight_kg", WEIGHT_KG, table="reading"),
            within("temperature_c", TEMPERATURE_C, table="reading"),
            within("rpe", RPE, table="reading"),
            within("angina", ANGINA_GRADE, table="reading"),
            within("standing_systolic_mmhg", SYSTOLIC_MMHG, table="reading"),
            within("standing_diastolic_mmhg", DIASTOLIC_MMHG, table="reading"),
            pressure_in_order("reading"),
            pressure_in_order("reading", "standing_"),
        ]

    def __str__(self) -> str:
        return f"reading {self.phase} at {clock(localtime(self.taken_at))}"

    @property
    def pressure(self) -> str:
        if self.systolic_mmhg is None:
            return ""
        return f"{self.systolic_mmhg}/{self.diastolic_mmhg}"

    @property
    def glucose_words(self) -> str:
        """Glucose in both units, the meter's own first; empty when not measured."""
        if self.glucose_mgdl is None:
            return ""
        return f"{Glucose(self.glucose_mgdl, is_mmoll=self.glucose_is_mmoll)}"


class Bout(ClinicalModel):
    """One piece of exercise."""

    of_site = "visit__enrolment__patient__site"

    class Activity(models.TextChoices):
        TREADMILL = "treadmill", "treadmill"
        CYCLE = "cycle", "leg cycle"
        ARM = "arm", "arm cycle"
        STEPPER = "stepper", "stepper"
        ROWER = "rower", "rower"
        TRACK = "track", "track walking"
        STRENGTH = "strength", "strength"
        FLEXIBILITY = "flexibility", "flexibility"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="bouts")
    place = models.PositiveSmallIntegerField()
    activity = models.CharField(max_length=12, choices=Activity)
    began_at = models.DateTimeField(null=True, blank=True)  # null for one entered afterwards
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)  # known once it is over
    speed_kmh = models.FloatField(null=True, blank=True)
    grade_percent = models.FloatField(null=True, blank=True)
    power_w = models.FloatField(null=True, blank=True)
    steps_per_minute = models.PositiveSmallIntegerField(null=True, blank=True)
    step_height_cm = models.FloatField(null=True, blank=True)
    shown_mets = models.FloatField("METs shown by the machine", null=True, blank=True)
    exercise = models.CharField(max_length=60, blank=True, default="")
    sets = models.PositiveSmallIntegerField(null=True, blank=True)
    repetitions = models.PositiveSmallIntegerField(null=True, blank=True)
    # How often more it could have been lifted.
    in_reserve = models.PositiveSmallIntegerField("repetitions in reserve", null=True, blank=True)
    load_kg = models.FloatField(null=True, blank=True)
    heart_rate_bpm = models.PositiveSmallIntegerField(null=True, blank=True)
    systolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    diastolic_mmhg = models.PositiveSmallIntegerField(null=True, blank=True)
    spo2_percent = models.PositiveSmallIntegerField(null=True, blank=True)
    rpe = models.PositiveSmallIntegerField(null=True, blank=True)
    angina = models.PositiveSmallIntegerField("angina grade", null=True, blank=True)
    dyspnoea = models.PositiveSmallIntegerField("dyspnea grade", null=True, blank=True)
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
            within("steps_per_minute", STEPS_PER_MINUTE, table="bout"),
            within("step_height_cm", STEP_HEIGHT_CM, table="bout"),
            within("shown_mets", SHOWN_METS, table="bout"),
            within("sets", SETS, table="bout"),
            within("repetitions", REPETITIONS, table="bout"),
            within("in_reserve", IN_RESERVE, table="bout"),
            within("load_kg", LOAD_KG, table="bout"),
            within("spo2_percent", SPO2_PERCENT, table="bout"),
            within("angina", ANGINA_GRADE, table="bout"),
            within("dyspnoea", DYSPNOEA_GRADE, table="bout"),
            pressure_in_order("bout"),
        ]

    def __str__(self) -> str:
        return f"{self.get_activity_display()}, {self.minutes} min"
