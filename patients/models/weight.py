"""Body weight by date, wherever it was taken."""

from datetime import date
from typing import Any, ClassVar

from django.db import models
from django.db.models import F
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.calc.limits import WEIGHT_KG
from patients.constraints import within
from patients.history import ClinicalModel, ClinicalQuerySet
from patients.models.person import Patient
from patients.prepared import Prepared


class BodyWeightQuerySet(ClinicalQuerySet):
    def standing(self) -> "BodyWeightQuerySet":
        """Not marked entered in error."""
        return self.filter(is_withdrawn=False)

    def newest_first(self) -> "BodyWeightQuerySet":
        """By day; on one day a weight whose hour is known comes after one without."""
        return self.order_by("-on", F("at").desc(nulls_last=True), "-pk")

    def newest_of(self, patient_id: int) -> "BodyWeight | None":
        """The weighing done last, wherever it was."""
        found: BodyWeight | None = self.standing().filter(patient=patient_id).newest_first().first()
        return found

    def latest_kg(self, patient_id: int) -> float | None:
        """The weight taken last, None when there is none. [kg]"""
        newest = self.newest_of(patient_id)
        return newest.kg if newest else None

    def before(self, patient_id: int, day: date) -> list[tuple[date, float]]:
        """The last dozen weights of earlier days, the newest first. [day, kg]"""
        return _BEFORE(patient=patient_id, on=day)


class BodyWeight(ClinicalModel):
    """One weighing. Class and assessment keep what they read, and write it here as well, so that
    whoever needs the person's weight need not know where it was taken."""

    of_site = "patient__site"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="weights")
    on = models.DateField("day")
    at = models.DateTimeField("hour, if known", null=True, blank=True)
    kg = models.FloatField("weight, kg")
    is_withdrawn = models.BooleanField("entered in error", default=False)
    history = HistoricalRecords()

    objects: ClassVar[Any] = BodyWeightQuerySet.as_manager()

    class Meta:
        ordering = ["on", "at", "pk"]
        constraints = [within("kg", WEIGHT_KG, table="bodyweight")]
        indexes = [
            models.Index(
                name="bodyweight_standing_idx",
                fields=["patient", "-on"],
                condition=models.Q(is_withdrawn=False),
            )
        ]

    def __str__(self) -> str:
        return f"{self.kg:g} kg on {in_words(self.on)}"


def _before(patient: int, on: date) -> Any:
    mine = BodyWeight.objects.standing().filter(patient=patient, on__lt=on).newest_first()
    return mine.values_list("on", "kg")[:12]


_BEFORE = Prepared(_before, patient=int, on=date)
