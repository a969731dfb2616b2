"""What a site decides about doses: its limits, who may go on unsigned, the machines it owns."""

from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import HEART_RATE_BPM, RPE, STEP_HEIGHT_CM
from patients.constraints import within
from patients.history import VersionedModel
from programs.prescription.calc.ceilings import ICD_MARGINS_BPM
from programs.prescription.calc.machines import BY_SPEED, SETTING, STEP, USUAL, Machine
from programs.prescription.calc.person import SiteLimits

USUAL_LIMITS = SiteLimits()
IN_USE = frozenset({"treadmill", "cycle"})  # until a site says what it owns


class DosePolicy(VersionedModel):
    """Limits of a site on any dose, and whether a dose goes on before it is signed."""

    of_site = "site"

    site = models.OneToOneField(
        "staff.Site", on_delete=models.PROTECT, related_name="dose_policy", editable=False
    )
    unsigned_goes_on = models.BooleanField(
        "a dose beyond the signed limits goes on unsigned",
        default=False,
        help_text="Marked as unsigned wherever it is used. Otherwise it waits for the physician.",
    )
    highest_bpm = models.PositiveSmallIntegerField("heart rate, at most", null=True, blank=True)
    highest_rpe = models.PositiveSmallIntegerField("RPE, at most", default=USUAL_LIMITS.highest_rpe)
    highest_percent = models.PositiveSmallIntegerField(
        "of the reserve, at most, %", default=round(100 * USUAL_LIMITS.highest_share)
    )
    highest_mets = models.FloatField("work, at most, METs", null=True, blank=True)
    icd_margin_bpm = models.PositiveSmallIntegerField(
        "below an ICD’s detection rate, /min", default=USUAL_LIMITS.icd_margin_bpm
    )
    most_minutes = models.PositiveSmallIntegerField(
        "limit of minutes a session, to begin with", default=USUAL_LIMITS.most_minutes
    )
    source = models.CharField(max_length=200, help_text="Protocol these numbers come from.")
    history = HistoricalRecords()

    class Meta:
        constraints = [
            within("highest_bpm", HEART_RATE_BPM, table="dosepolicy"),
            within("highest_rpe", RPE, table="dosepolicy"),
            models.CheckConstraint(
                name="dosepolicy_share_possible",
                condition=Q(highest_percent__gte=40, highest_percent__lte=95),
                violation_error_message="The share of the reserve is 40 to 95 per cent.",
            ),
            models.CheckConstraint(
                name="dosepolicy_margin_in_use",
                condition=Q(
                    icd_margin_bpm__gte=ICD_MARGINS_BPM[0], icd_margin_bpm__lte=ICD_MARGINS_BPM[1]
                ),
                violation_error_message="Below a detection rate 10 to 15 /min are in use.",
            ),
            models.CheckConstraint(
                name="dosepolicy_mets_possible",
                condition=Q(highest_mets=None) | Q(highest_mets__gte=1.5, highest_mets__lte=20),
                violation_error_message="Work at most is 1.5 to 20 METs.",
            ),
            models.CheckConstraint(
                name="dosepolicy_minutes_possible",
                condition=Q(most_minutes__gte=10, most_minutes__lte=90),
                violation_error_message="Minutes at most are 10 to 90.",
            ),
        ]

    def __str__(self) -> str:
        return f"limits of doses at {self.site}"

    def limits(self) -> SiteLimits:
        """What the draft of a dose reads."""
        return SiteLimits(
            self.highest_bpm,
            self.highest_rpe,
            self.highest_percent / 100,
            self.highest_mets,
            self.icd_margin_bpm,
            self.most_minutes,
        )


class SiteMachine(VersionedModel):
    """A kind of machine at a site and what it can be set to."""

    of_site = "site"

    site = models.ForeignKey(
        "staff.Site", on_delete=models.PROTECT, related_name="machines", editable=False
    )
    kind = models.CharField(
        max_length=12, choices=[(k, m.name) for k, m in USUAL.items()], editable=False
    )
    is_in_use = models.BooleanField("this site has one", default=True)
    is_mph = models.BooleanField("speed is set in mph", default=False)
    least = models.FloatField("can be set from")
    most = models.FloatField("to")
    step = models.FloatField(
        "in steps of", help_text="Of several that differ, the coarsest step and the smallest span."
    )
    grade_step = models.FloatField("grade in steps of, %", null=True, blank=True)
    most_grade = models.FloatField("grade at most, %", null=True, blank=True)
    height_cm = models.FloatField("height of a step, cm", null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(name="sitemachine_one_per_kind", fields=["site", "kind"]),
            within("least", SETTING, table="sitemachine"),
            within("most", SETTING, table="sitemachine"),
            within("step", STEP, table="sitemachine"),
            within("height_cm", STEP_HEIGHT_CM, table="sitemachine"),
            models.CheckConstraint(
                name="sitemachine_span_in_order",
                condition=Q(least__lt=F("most")),
                violation_error_message="It is set from a smaller to a larger number.",
            ),
            models.CheckConstraint(
                name="sitemachine_grade_possible",
                condition=(Q(grade_step=None) | Q(grade_step__gte=0.1, grade_step__lte=5))
                & (Q(most_grade=None) | Q(most_grade__gte=0, most_grade__lte=30)),
                violation_error_message="Grades go in steps of 0.1 to 5, up to 30 per cent.",
            ),
            models.CheckConstraint(
                name="sitemachine_stepper_has_height",
                condition=~Q(kind="stepper") | Q(height_cm__isnull=False, least__gte=5),
                violation_error_message="A stepper needs the height of its step and 5 /min.",
            ),
            # Nothing stands still for exercise: the equations ask for a speed.
            models.CheckConstraint(
                name="sitemachine_speed_above_nothing",
                condition=~Q(kind__in=sorted(BY_SPEED)) | Q(least__gt=0, most__lte=25),
                violation_error_message="A speed is above 0 and up to 25.",
            ),
        ]

    def __str__(self) -> str:
        return str(self.get_kind_display())

    @property
    def machine(self) -> Machine:
        """As the equations read it."""
        return Machine(
            self.kind,
            str(self.get_kind_display()),
            self.least,
            self.most,
            self.step,
            self.is_mph,
            self.grade_step,
            self.most_grade,
            self.height_cm,
        )
