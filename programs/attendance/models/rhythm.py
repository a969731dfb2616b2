"""What staff saw on the monitor. The program interprets no waveform."""

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import HEART_RATE_BPM, PVC_PER_MINUTE, QRS_MS, RUN_BEATS, ST_MM
from patients.constraints import within
from patients.history import ClinicalModel
from programs.attendance.calc.rhythm import BLOCKS, LEAD_GROUPS, RHYTHMS, ST_CHANGES
from programs.attendance.models.visit import Visit


class RhythmFinding(ClinicalModel):
    """One record a visit; empty means not noted, never normal."""

    of_site = "visit__enrolment__patient__site"

    visit = models.OneToOneField(Visit, on_delete=models.PROTECT, related_name="rhythm")
    before = models.CharField(
        "rhythm before", max_length=8, choices=RHYTHMS, blank=True, default=""
    )
    during = models.CharField(
        "rhythm in exercise", max_length=8, choices=RHYTHMS, blank=True, default=""
    )
    pvc_per_minute = models.PositiveSmallIntegerField(null=True, blank=True)
    has_couplets = models.BooleanField(null=True, blank=True, default=None)
    has_triplets = models.BooleanField(null=True, blank=True, default=None)
    is_multiform = models.BooleanField(null=True, blank=True, default=None)
    pvc_is_rising = models.BooleanField("more frequent", null=True, blank=True, default=None)
    run_beats = models.PositiveSmallIntegerField("beats in a run", null=True, blank=True)
    run_rate_bpm = models.PositiveSmallIntegerField("rate of the run", null=True, blank=True)
    qrs_before_ms = models.PositiveSmallIntegerField(null=True, blank=True)
    qrs_during_ms = models.PositiveSmallIntegerField(null=True, blank=True)
    st_change = models.CharField(
        "ST change", max_length=12, choices=ST_CHANGES, blank=True, default=""
    )
    st_mm = models.FloatField("ST change, mm", null=True, blank=True)
    st_leads = models.CharField("leads", max_length=8, choices=LEAD_GROUPS, blank=True, default="")
    has_q_wave = models.BooleanField("Q wave there", null=True, blank=True, default=None)
    new_block = models.CharField("new block", max_length=8, choices=BLOCKS, blank=True, default="")
    history = HistoricalRecords()

    class Meta:
        constraints = [
            within("pvc_per_minute", PVC_PER_MINUTE, table="rhythmfinding"),
            within("qrs_before_ms", QRS_MS, table="rhythmfinding"),
            within("qrs_during_ms", QRS_MS, table="rhythmfinding"),
            within("run_beats", RUN_BEATS, table="rhythmfinding"),
            within("run_rate_bpm", HEART_RATE_BPM, table="rhythmfinding"),
            within("st_mm", ST_MM, table="rhythmfinding"),
            models.CheckConstraint(
                name="rhythmfinding_st_has_its_size",
                condition=Q(st_change__in=["", "none"]) | Q(st_mm__isnull=False),
                violation_error_message="An ST change needs its size in mm.",
            ),
        ]

    def __str__(self) -> str:
        return f"rhythm of {self.visit}"
