"""Class meetings, visits, readings, exercise bouts, rhythm findings and rule findings."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import (
    BOUT_MINUTES,
    CYCLE_W,
    DIASTOLIC_MMHG,
    GLUCOSE_MGDL,
    HEART_RATE_BPM,
    PVC_PER_MINUTE,
    QRS_MS,
    RPE,
    SESSION_MINUTES,
    SPO2_PERCENT,
    SYSTOLIC_MMHG,
    TREADMILL_KMH,
    WEIGHT_KG,
)
from patients.constraints import within
from patients.history import ClinicalModel, ClinicalQuerySet, VersionedModel
from programs.attendance.calc.rules import Level
from programs.enrolment.models import ClassSlot, Enrolment


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


class ClassMeeting(ClinicalModel):
    """A class on one day."""

    slot = models.ForeignKey(ClassSlot, on_delete=models.PROTECT, related_name="meetings")
    on = models.DateField()
    history = HistoricalRecords()

    class Meta:
        ordering = ["on", "slot__starts_at"]
        constraints = [models.UniqueConstraint(name="classmeeting_once", fields=["slot", "on"])]

    def __str__(self) -> str:
        return f"{self.slot}, {self.on}"


class VisitQuerySet(ClinicalQuerySet):
    def counted(self) -> "VisitQuerySet":
        return self.filter(Q(counts_first=True) | Q(counts_second=True))


class Visit(VersionedModel):
    class State(models.TextChoices):
        EXPECTED = "expected", "expected"  # an arrival or absence that was undone
        ARRIVED = "arrived", "before exercise"
        EXERCISING = "exercising", "exercising"
        FINISHED = "finished", "finished"
        HELD = "held", "held"
        STOPPED = "stopped", "stopped"
        ABSENT = "absent", "absent"

    class Absence(models.TextChoices):
        ILL = "ill", "ill"
        HOSPITAL = "hospital", "in hospital"
        APPOINTMENT = "appointment", "other appointment"
        TRANSPORT = "transport", "transport"
        WORK = "work", "work or family"
        WEATHER = "weather", "weather"
        HOLIDAY = "holiday", "away"
        UNKNOWN = "unknown", "did not say"

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="visits")
    meeting = models.ForeignKey(ClassMeeting, on_delete=models.PROTECT, related_name="visits")
    on = models.DateField()  # copied from the meeting: reports count by enrolment and day
    state = models.CharField(max_length=12, choices=State)
    absence = models.CharField("reason", max_length=12, choices=Absence, blank=True, default="")
    arrived_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField("session minutes", null=True, blank=True)
    counts_first = models.BooleanField(default=False, editable=False)
    counts_second = models.BooleanField(default=False, editable=False)
    has_new_symptoms = models.BooleanField("new symptoms", null=True, blank=True, default=None)
    symptoms = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)
    history = HistoricalRecords()

    objects: ClassVar[Any] = VisitQuerySet.as_manager()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="visit_once_per_meeting",
                fields=["enrolment", "meeting"],
                violation_error_message="This person is already in this class.",
            ),
            models.UniqueConstraint(
                name="visit_one_first_session_a_day",
                fields=["enrolment", "on"],
                condition=Q(counts_first=True),
            ),
            models.UniqueConstraint(
                name="visit_one_second_session_a_day",
                fields=["enrolment", "on"],
                condition=Q(counts_second=True),
            ),
            models.CheckConstraint(
                name="visit_state_known",
                condition=Q(
                    state__in=[
                        "expected",
                        "arrived",
                        "exercising",
                        "finished",
                        "held",
                        "stopped",
                        "absent",
                    ]
                ),
            ),
            models.CheckConstraint(
                name="visit_counted_was_treated",
                condition=Q(counts_first=False, counts_second=False)
                | Q(state__in=["finished", "stopped"], minutes__isnull=False),
                violation_error_message="Only a finished or stopped session with minutes counts.",
            ),
            within("minutes", SESSION_MINUTES, table="visit"),
            models.CheckConstraint(
                name="visit_finished_has_minutes",
                condition=~Q(state="finished") | Q(minutes__isnull=False),
                violation_error_message="A finished session needs its minutes.",
            ),
            models.CheckConstraint(
                name="visit_absent_has_reason",
                condition=(Q(state="absent") & ~Q(absence=""))
                | (~Q(state="absent") & Q(absence="")),
                violation_error_message="An absence needs a reason, and only an absence has one.",
            ),
            models.CheckConstraint(
                name="visit_ends_after_arrival",
                condition=Q(ended_at=None) | Q(arrived_at=None) | Q(ended_at__gte=F("arrived_at")),
                violation_error_message="A session must end after it starts.",
            ),
        ]
        indexes = [
            # Completion and retention reports count attended days by enrolment, index-only.
            models.Index(
                name="visit_counted_idx",
                fields=["enrolment", "on"],
                include=["counts_second"],
                condition=Q(counts_first=True),
            ),
            models.Index(fields=["meeting", "state"]),
        ]

    def __str__(self) -> str:
        return f"visit of {self.enrolment.patient} on {self.on}"

    @property
    def sessions_counted(self) -> int:
        return self.counts_first + self.counts_second

    @property
    def has_ended(self) -> bool:
        return self.state in {self.State.FINISHED, self.State.HELD, self.State.STOPPED}


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
            models.CheckConstraint(
                name="bout_grade_possible",
                condition=Q(grade_percent=None) | Q(grade_percent__gte=-5, grade_percent__lte=30),
            ),
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


class Finding(ClinicalModel):
    """A rule that triggered, with the reading and limit of that moment, and what was decided."""

    class Decision(models.TextChoices):
        PROCEED = "proceed", "go on"
        HOLD = "hold", "hold today"
        STOP = "stop", "stop exercise"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="findings")
    rule_id = models.CharField(max_length=8)
    level = models.PositiveSmallIntegerField(choices=[(lvl.value, lvl.word) for lvl in Level])
    value = models.FloatField()
    limit = models.FloatField()
    sentence = models.CharField(max_length=250)
    source = models.CharField(max_length=200)
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
        indexes = [models.Index(fields=["visit", "answered_at"])]

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
