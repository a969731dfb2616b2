"""Parts of a prescription beside its intensity: limits to sign, what it was written on."""

from typing import Any

from django.db import models
from django.db.models import Q

from patients.calc.limits import BOUT_MINUTES, HEART_RATE_BPM, RPE, SETS, VO2_ML_KG_MIN
from programs.prescription.calc.dose import DAYS_A_WEEK, HOLD_S, WARM_UP_MINUTES
from programs.prescription.calc.strength import STAGES

STRENGTH_CHOICES = [(stage.key, stage.name) for stage in STAGES]


def _count(words: str, **given: Any) -> Any:
    return models.PositiveSmallIntegerField(words, null=True, blank=True, **given)


class DoseParts(models.Model):
    """Columns of a prescription. Empty is "not prescribed", never a usual value."""

    # Written beyond what is signed: in force only once a physician signs it.
    is_waiting = models.BooleanField(default=False, editable=False)
    # The signed prescription inside whose limits this one lies.
    covered_by = models.ForeignKey(
        "prescription.Prescription",
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        editable=False,
    )
    beyond = models.TextField(blank=True, default="", editable=False)
    above_because = models.CharField(max_length=200, blank=True, default="")
    peak_vo2 = models.FloatField(null=True, blank=True)
    loads = models.JSONField(default=list, blank=True)  # one a machine, as set
    warm_up_minutes = _count("warm-up")
    cool_down_minutes = _count("cool-down")
    strength = models.CharField(max_length=12, choices=STRENGTH_CHOICES, blank=True, default="")
    strength_from = models.DateField(null=True, blank=True)
    strength_sets = _count("sets")
    strength_days = _count("resistance, days a week")
    lifts = models.JSONField("exercises", default=list, blank=True)  # calc/lifts.py
    stretch_days = _count("flexibility, days a week")
    stretch_hold_s = _count("hold")
    balance_days = _count("balance, days a week")
    home_days = _count("at home, days a week")
    home_minutes = _count("at home, minutes a day")
    # How far it may be raised without another signature.
    most_rpe = _count("RPE, at most")
    most_bpm = _count("heart rate, at most")
    most_mets = models.FloatField("work, at most", null=True, blank=True)
    most_minutes = _count("minutes, at most")
    most_per_week = _count("sessions a week, at most")
    most_strength = models.CharField(
        max_length=12, choices=STRENGTH_CHOICES, blank=True, default=""
    )
    basis = models.JSONField(default=dict, blank=True, editable=False)

    class Meta:
        abstract = True


LIMITS = {
    **dict.fromkeys(["strength_days", "stretch_days", "balance_days", "home_days"], DAYS_A_WEEK),
    "most_per_week": DAYS_A_WEEK,
    **dict.fromkeys(["home_minutes", "most_minutes"], BOUT_MINUTES),
    **dict.fromkeys(["warm_up_minutes", "cool_down_minutes"], WARM_UP_MINUTES),
    "stretch_hold_s": HOLD_S,
    "strength_sets": SETS,
    "most_rpe": RPE,
    "most_bpm": HEART_RATE_BPM,
    "peak_vo2": VO2_ML_KG_MIN,
}


def part_constraints() -> list[models.BaseConstraint]:
    """What the database holds of these columns: one check of them all, since each costs SQLite a
    copy of the table."""
    every = Q()
    for name, limit in LIMITS.items():
        inside = Q(**{f"{name}__gte": limit.low, f"{name}__lte": limit.high})
        every &= Q(**{f"{name}__isnull": True}) | inside
    return [
        models.CheckConstraint(
            name="prescription_parts_possible",
            condition=every,
            violation_error_message="A part of the prescription is outside what is possible.",
        ),
        models.CheckConstraint(
            name="prescription_waits_unsigned",
            condition=Q(is_waiting=False) | Q(signed_at=None, covered_by=None),
            violation_error_message="What is signed or covered does not wait.",
        ),
    ]
