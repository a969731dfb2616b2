"""The weekly timetable of a site and the days it is closed."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.history import ClinicalModel, ClinicalQuerySet
from patients.wall import clock
from programs.enrolment.calc.calendar import WeeklyClass
from programs.enrolment.models.day_totals import CountedByDay


class Weekday(models.IntegerChoices):
    MONDAY = 0, "Monday"
    TUESDAY = 1, "Tuesday"
    WEDNESDAY = 2, "Wednesday"
    THURSDAY = 3, "Thursday"
    FRIDAY = 4, "Friday"
    SATURDAY = 5, "Saturday"
    SUNDAY = 6, "Sunday"


class ClassSlot(ClinicalModel):
    """A class held every week at the same time."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="classes")
    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    starts_at = models.TimeField()
    minutes = models.PositiveSmallIntegerField(default=60)
    seats = models.PositiveSmallIntegerField(default=8)
    staff_needed = models.PositiveSmallIntegerField("staff", default=2)
    ecg_channels = models.PositiveSmallIntegerField("ECG channels", null=True, blank=True)
    is_open = models.BooleanField("takes new people", default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["weekday", "starts_at"]
        verbose_name = "class"
        verbose_name_plural = "classes"
        constraints = [
            models.UniqueConstraint(
                name="classslot_one_per_time",
                fields=["site", "weekday", "starts_at"],
                violation_error_message="This site already has a class at this time.",
            ),
            models.CheckConstraint(
                name="classslot_weekday_known", condition=Q(weekday__gte=0, weekday__lte=6)
            ),
            models.CheckConstraint(
                name="classslot_minutes_possible",
                condition=Q(minutes__gte=15, minutes__lte=180),
                violation_error_message="A class lasts 15 to 180 minutes.",
            ),
            models.CheckConstraint(
                name="classslot_seats_possible",
                condition=Q(seats__gte=1, seats__lte=40),
                violation_error_message="A class has 1 to 40 seats.",
            ),
            models.CheckConstraint(
                name="classslot_staff_possible",
                condition=Q(staff_needed__gte=1, staff_needed__lte=20),
                violation_error_message="A class has 1 to 20 staff.",
            ),
            models.CheckConstraint(
                name="classslot_channels_possible",
                condition=Q(ecg_channels=None) | Q(ecg_channels__lte=40),
                violation_error_message="A class has at most 40 ECG channels.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {clock(self.starts_at)}"

    @property
    def weekly(self) -> WeeklyClass:
        return WeeklyClass(self.pk, self.weekday)


class ClosureQuerySet(ClinicalQuerySet):
    def in_force(self) -> "ClosureQuerySet":
        """Not taken back."""
        return self.filter(is_withdrawn=False)


class Closure(ClinicalModel):
    """A day on which a site holds no class; one entered by mistake is withdrawn, never deleted."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="closures")
    on = models.DateField()
    reason = models.CharField(max_length=80)
    is_withdrawn = models.BooleanField(default=False)
    history = HistoricalRecords()

    objects: ClassVar[Any] = ClosureQuerySet.as_manager()

    class Meta:
        ordering = ["on"]
        constraints = [
            models.UniqueConstraint(
                name="closure_one_a_day",
                fields=["site", "on"],
                condition=Q(is_withdrawn=False),
                violation_error_message="This day is already closed.",
            )
        ]

    def __str__(self) -> str:
        return f"{in_words(self.on)}: {self.reason}"


class ClassChange(CountedByDay, ClinicalModel):
    """One class on one day is different: cancelled, at another time, or with other seats."""

    of_site = "slot__site"

    slot = models.ForeignKey(ClassSlot, on_delete=models.PROTECT, related_name="changes")
    on = models.DateField("day")
    is_cancelled = models.BooleanField("not held", default=False)
    starts_at = models.TimeField("starts at", null=True, blank=True)
    seats = models.PositiveSmallIntegerField(null=True, blank=True)
    reason = models.CharField(max_length=80)
    history = HistoricalRecords()

    class Meta:
        ordering = ["on", "slot"]
        constraints = [
            models.UniqueConstraint(
                name="classchange_one_a_day",
                fields=["slot", "on"],
                violation_error_message="This class is already changed on this day.",
            ),
            models.CheckConstraint(
                name="classchange_says_what",
                condition=Q(is_cancelled=True, starts_at=None, seats=None)
                | (Q(is_cancelled=False) & (Q(starts_at__isnull=False) | Q(seats__isnull=False))),
                violation_error_message="Cancel the class, or give another time or other seats.",
            ),
            models.CheckConstraint(
                name="classchange_seats_possible",
                condition=Q(seats=None) | Q(seats__gte=0, seats__lte=40),
                violation_error_message="A class has at most 40 seats.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.slot} on {in_words(self.on)}: {self.reason}"
