"""What figures of many courses read, counted from the record when somebody asks.

Results, signatures and reassessments are written in many places and read by a manager now and
then. Whoever writes one only says that the course is to be counted again
(``ReferralTotals.objects.forget``); reports count it before they read (``reports.counting``), and
``manage.py verify_totals`` proves what is kept.
"""

from typing import Any, ClassVar

from django.db import models

from patients.history import ScopedQuerySet
from programs.enrolment.models.referral_totals import ReferralTotals


class GainTotals(models.Model):
    """One measure of one course that has any result of it (``reports.calc.cohort``)."""

    of_site = "referral__site"

    referral = models.ForeignKey(
        ReferralTotals, on_delete=models.PROTECT, related_name="gains", db_index=False
    )
    key = models.CharField(max_length=40)  # of the measure
    ends = models.PositiveSmallIntegerField()  # what there is at baseline and exit
    first = models.FloatField(null=True)  # baseline, of a pair
    change = models.FloatField(null=True)  # exit minus baseline, of a pair
    reached = models.BooleanField(default=False)  # better by a meaningful change
    again = models.FloatField(null=True)  # difference of a test repeated within a week

    objects: ClassVar[Any] = ScopedQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="gaintotals_once", fields=["referral", "key"]),
        ]

    def __str__(self) -> str:
        return f"{self.key} of {self.referral}"


class SignatureTotalsQuerySet(ScopedQuerySet):
    def tell_person(self, patient: Any) -> None:
        """Somebody goes on at another site, and takes the signatures of before along."""
        there = patient.site_id
        self.filter(referral__patient=patient).exclude(site=there).update(site=there)


class SignatureTotals(models.Model):
    """A signature that was due (``reports.calc.signatures``)."""

    of_site = "site"

    referral = models.ForeignKey(
        ReferralTotals, on_delete=models.PROTECT, related_name="signatures"
    )
    site = models.ForeignKey(
        "staff.Site", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    # The day it was made if that was in time, else the day it was due, which may lie ahead.
    counts_on = models.DateField()
    is_in_time = models.BooleanField()

    objects: ClassVar[Any] = SignatureTotalsQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(
                name="signaturetotals_day_idx", fields=["site", "counts_on", "is_in_time"]
            ),
        ]

    def __str__(self) -> str:
        return f"signature of {self.referral}"
