"""What the classes of a site came to on one day, on one narrow row.

Three and a half million visits are ten years of ten sites; their days are thirty-six thousand. A
day's row is made once the day is two days over (``reports.day_totals``), so that nobody on the
floor waits for another at it. Whoever corrects something afterwards takes the row away in the same
transaction, and the next figure that needs the day counts it again.
"""

from datetime import date, timedelta
from operator import attrgetter
from typing import Any, ClassVar

from django.db import connection, models, transaction
from django.utils import timezone

from patients.history import ScopedQuerySet

KEPT_AFTER_DAYS = 2
_KEY = 36_001  # of the lock; no other stands in this database


def lock_days(*, shared: bool) -> None:
    """Of those who correct a day that is over and those who count it, one kind at a time.

    SQLite has one writer anyway, from the first statement of a transaction on.
    """
    if connection.vendor == "postgresql":
        kind = "_shared" if shared else ""
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT pg_advisory_xact_lock{kind}(%s)", [_KEY])


def may_be_kept(on: date) -> bool:
    """Whether the row of a day may exist, wherever the site is: it is not asked which.

    Nowhere is it later than UTC+14; an hour more, for what is being stored while a day ends.
    """
    latest = (timezone.now() + timedelta(hours=15)).date()
    return on <= latest - timedelta(days=KEPT_AFTER_DAYS)


class DayTotalsQuerySet(ScopedQuerySet):
    @transaction.atomic
    def forget(self, **days: Any) -> None:
        """Some days are to be counted again. Called in the transaction that writes."""
        lock_days(shared=True)
        self.filter(**days).delete()


class DayTotals(models.Model):
    """The classes of one site on one day; a day without any has a row of noughts."""

    of_site = "site"

    site = models.ForeignKey(
        "staff.Site", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    on = models.DateField()
    # Visits, by what became of them.
    came = models.PositiveSmallIntegerField(default=0)
    held = models.PositiveSmallIntegerField(default=0)
    stopped = models.PositiveSmallIntegerField(default=0)
    minutes = models.PositiveIntegerField(default=0)
    absent_ill = models.PositiveSmallIntegerField(default=0)
    absent_hospital = models.PositiveSmallIntegerField(default=0)
    absent_appointment = models.PositiveSmallIntegerField(default=0)
    absent_transport = models.PositiveSmallIntegerField(default=0)
    absent_work = models.PositiveSmallIntegerField(default=0)
    absent_weather = models.PositiveSmallIntegerField(default=0)
    absent_holiday = models.PositiveSmallIntegerField(default=0)
    absent_unknown = models.PositiveSmallIntegerField(default=0)
    counted = models.PositiveSmallIntegerField(default=0)  # visits that count as sessions
    with_plan = models.PositiveSmallIntegerField(default=0)  # of these, under a signed plan
    findings = models.PositiveSmallIntegerField(default=0)
    grave_findings = models.PositiveSmallIntegerField(default=0)  # at hold or stop
    make_ups = models.PositiveSmallIntegerField(default=0)  # booked for the day
    make_ups_attended = models.PositiveSmallIntegerField(default=0)
    # Classes: those held have seats.
    seats = models.PositiveSmallIntegerField(default=0)
    opened = models.PositiveSmallIntegerField(default=0)
    opened_without = models.PositiveSmallIntegerField(default=0)  # something the rules ask for

    objects: ClassVar[Any] = DayTotalsQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(name="daytotals_once", fields=["site", "on"])]

    def __str__(self) -> str:
        return f"{self.site} on {self.on}"


class CountedByDay(models.Model):
    """A row that a day's totals are made of: once it is saved, a day that is over counts again."""

    of_day: ClassVar[str] = "on"
    of_class: ClassVar[str] = "slot"

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save the row, and have its day counted again, together or not at all."""
        on = attrgetter(self.of_day)(self)
        if not may_be_kept(on):
            super().save(*args, **kwargs)
            return
        with transaction.atomic(savepoint=False):
            super().save(*args, **kwargs)
            DayTotals.objects.forget(site=attrgetter(self.of_class)(self).site_id, on=on)


def forget_from(on: date, days: int) -> None:
    """Something that holds from a day on, for some days, is known only now."""
    if may_be_kept(on):
        DayTotals.objects.forget(on__range=(on, on + timedelta(days=days)))
