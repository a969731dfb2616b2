"""A person's course through the program: dates, pauses, planned sessions, what it came to."""

from collections.abc import Sequence
from datetime import date
from typing import Any, ClassVar

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.history import ClinicalModel, ClinicalQuerySet, ScopedQuerySet, VersionedModel
from programs.enrolment.calc.calendar import SESSIONS, WEEKS, week_of
from programs.enrolment.calc.start_clock import counted_from
from programs.enrolment.models.day_totals import CountedByDay
from programs.enrolment.models.referral import Referral
from programs.enrolment.models.referral_totals import ReferralTotals, facts_of_course
from programs.enrolment.models.timetable import ClassSlot


class EnrolmentQuerySet(ClinicalQuerySet):
    def still_open(self) -> "EnrolmentQuerySet":
        """Not closed: booked, active or paused."""
        return self.filter(closed_on=None)

    def bulk_update(self, objs: Any, fields: Any, *args: Any, **kwargs: Any) -> Any:
        """Courses saved together tell their totals like one that is saved alone."""
        with transaction.atomic():
            n = super().bulk_update(objs, fields, *args, **kwargs)
            if not COPIED_FIELDS.isdisjoint(fields):
                CourseTotals.objects.copy_courses([course.pk for course in objs])
        return n


COPIED_FIELDS = frozenset(
    {"patient", "referral", "starts_on", "sessions_planned", "closed_on", "outcome"}
)


class Enrolment(VersionedModel):
    of_site = "patient__site"

    class Outcome(models.TextChoices):
        COMPLETED = "completed", "completed"
        MEDICAL = "medical", "medical reason"
        READMISSION = "readmission", "readmitted to hospital"
        WORK = "work", "work"
        TRANSPORT = "transport", "transport"
        COST = "cost", "cost"
        CHOICE = "choice", "own choice"
        MOVED = "moved", "moved away"
        LOST = "lost", "lost contact"
        DIED = "died", "died"

    patient = models.ForeignKey(
        "patients.Patient", on_delete=models.PROTECT, related_name="enrolments"
    )
    referral = models.OneToOneField(Referral, on_delete=models.PROTECT, related_name="enrolment")
    starts_on = models.DateField("starts")
    planned_end_on = models.DateField("planned end")
    weeks = models.PositiveSmallIntegerField(default=WEEKS)
    sessions_planned = models.PositiveSmallIntegerField(default=SESSIONS)
    extension_reason = models.CharField(
        "who approved more than 36", max_length=120, blank=True, default=""
    )
    slots = models.ManyToManyField(ClassSlot, related_name="enrolments")
    clinician = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        verbose_name="assigned to",
    )
    closed_on = models.DateField("left", null=True, blank=True)
    outcome = models.CharField(max_length=12, choices=Outcome, blank=True, default="")
    history = HistoricalRecords(m2m_fields=[slots])

    objects: ClassVar[Any] = EnrolmentQuerySet.as_manager()

    class Meta:
        ordering = ["-starts_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                name="enrolment_one_open",
                fields=["patient"],
                condition=Q(closed_on=None),
                violation_error_message="This patient already has an open enrolment.",
            ),
            models.CheckConstraint(
                name="enrolment_ends_after_start",
                condition=Q(planned_end_on__gte=F("starts_on")),
                violation_error_message="The program must end after it starts.",
            ),
            models.CheckConstraint(
                name="enrolment_leaves_after_start",
                condition=Q(closed_on=None)
                | Q(closed_on__gte=F("starts_on"))
                | ~Q(outcome="completed"),
                violation_error_message="A course that never started cannot be completed.",
            ),
            models.CheckConstraint(
                name="enrolment_closed_with_outcome",
                condition=(Q(closed_on=None) & Q(outcome=""))
                | (Q(closed_on__isnull=False) & ~Q(outcome="")),
                violation_error_message="Leaving needs a date and a reason together.",
            ),
            models.CheckConstraint(
                name="enrolment_sessions_possible",
                condition=Q(sessions_planned__gte=1, sessions_planned__lte=72),
                violation_error_message="Between 1 and 72 sessions can be planned.",
            ),
            models.CheckConstraint(
                name="enrolment_extension_is_approved",
                condition=Q(sessions_planned__lte=SESSIONS) | ~Q(extension_reason=""),
                violation_error_message=(
                    "More than 36 sessions need the payer’s approval: say who approved."
                ),
            ),
            models.CheckConstraint(
                name="enrolment_weeks_possible", condition=Q(weeks__gte=1, weeks__lte=36)
            ),
        ]
        indexes = [
            models.Index(fields=["starts_on"]),
            models.Index(fields=["closed_on", "starts_on"]),
        ]

    def __str__(self) -> str:
        return f"{self.patient}, from {in_words(self.starts_on)}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save the course, and what its totals copy from it, together or not at all."""
        with transaction.atomic():
            super().save(*args, **kwargs)
            CourseTotals.objects.copy_course(self)

    def week_on(self, day: date) -> int:
        return week_of(day, self.starts_on)

    @property
    def days_words(self) -> str:
        """The weekly classes, such as Monday 09:00, Friday 09:00."""
        return ", ".join(str(slot) for slot in self.slots.all())

    @property
    def is_open(self) -> bool:
        return self.closed_on is None


class Pause(ClinicalModel):
    of_site = "enrolment__patient__site"

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="pauses")
    from_on = models.DateField("from")
    until_on = models.DateField("back on", null=True, blank=True)
    reason = models.CharField(max_length=120)
    history = HistoricalRecords()

    class Meta:
        ordering = ["from_on"]
        constraints = [
            models.UniqueConstraint(
                name="pause_one_open",
                fields=["enrolment"],
                condition=Q(until_on=None),
                violation_error_message="This enrolment is already paused.",
            ),
            models.CheckConstraint(
                name="pause_ends_after_start",
                condition=Q(until_on=None) | Q(until_on__gte=F("from_on")),
                violation_error_message="A pause must end after it starts.",
            ),
        ]

    def __str__(self) -> str:
        return f"paused from {in_words(self.from_on)}: {self.reason}"


class PlannedSession(CountedByDay, models.Model):
    """A seat booked in a class on a day. Re-planning replaces future ones, never past ones.

    A booking given up is deleted; its history keeps that it was there, and who gave it up. A
    make-up names the session it stands for by class and day, since that booking may be given up.
    """

    of_site = "enrolment__patient__site"

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="planned")
    slot = models.ForeignKey(ClassSlot, on_delete=models.PROTECT, related_name="planned")
    on = models.DateField()
    makes_up_on = models.DateField("make-up for", null=True, blank=True)
    makes_up_slot = models.ForeignKey(
        ClassSlot,
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        db_index=False,
        verbose_name="make-up for the class",
    )
    history = HistoricalRecords(no_db_index=["makes_up_slot"])  # nobody looks versions up by it

    objects: ClassVar[Any] = ScopedQuerySet.as_manager()

    class Meta:
        ordering = ["on", "slot__starts_at"]
        constraints = [
            models.UniqueConstraint(
                name="plannedsession_once",
                fields=["enrolment", "slot", "on"],
                violation_error_message="This session is already planned.",
            )
        ]
        indexes = [
            models.Index(fields=["slot", "on"]),
            models.Index(
                name="plannedsession_make_up_idx",
                fields=["makes_up_slot", "makes_up_on"],
                condition=Q(makes_up_on__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.slot} on {in_words(self.on)}"

    def clean(self) -> None:
        """A constraint would read ten years of bookings when it is added."""
        if (self.makes_up_on is None) != (self.makes_up_slot_id is None):
            raise ValidationError("A make-up names the day and the class that were missed.")


class CourseTotalsQuerySet(ScopedQuerySet):
    """How each writer tells what it wrote; nothing else sets these columns."""

    @transaction.atomic
    def copy_course(self, course: Enrolment) -> None:
        """The course was saved, or a date of its referral."""
        row = self._tell(course, **copied_from(course))
        ReferralTotals.objects.tell_course(course.referral_id, row, left_on=course.closed_on)
        ReferralTotals.objects.forget(pk=course.referral_id)

    @transaction.atomic
    def copy_courses(self, keys: Sequence[int]) -> None:
        """Many courses were saved together: five queries."""
        related = Enrolment.objects.select_related("patient__site", "referral__condition")
        courses = related.in_bulk(keys)
        rows: list[Any] = list(self.select_for_update().filter(pk__in=keys))
        columns: set[str] = {"days_to_start"}
        for row in rows:
            copied = copied_from(courses[row.pk])
            _set(row, copied)
            columns |= copied.keys()
        self.bulk_update(rows, sorted(columns))
        ReferralTotals.objects.tell_courses(
            {
                courses[row.pk].referral_id: facts_of_course(row, left_on=courses[row.pk].closed_on)
                for row in rows
            }
        )
        ReferralTotals.objects.forget(pk__in=[courses[row.pk].referral_id for row in rows])

    @transaction.atomic
    def count_sessions(self, course: Enrolment, days: Sequence[date], n_in_36_weeks: int) -> None:
        """The visits that count were counted anew; ``days`` has a day for each session."""
        days = sorted(days)
        row = self._tell(
            course,
            sessions=len(days),
            sessions_in_36_weeks=n_in_36_weeks,
            first_on=days[0] if days else None,
        )
        ReferralTotals.objects.tell_course(course.referral_id, row, days=days)

    @transaction.atomic
    def set_exit(self, course: Enrolment, has_exit: bool) -> None:
        """The exit assessment was performed, or was not after all."""
        row = self._tell(course, has_exit=has_exit)
        ReferralTotals.objects.tell_course(course.referral_id, row)

    def move(self, patient: int, site: int) -> None:
        """Somebody goes on at another site, and takes the courses of before along."""
        self.filter(enrolment__patient=patient).update(site=site)
        ReferralTotals.objects.filter(patient=patient).update(site=site)

    @transaction.atomic
    def _tell(self, course: Enrolment, **columns: Any) -> Any:
        found: Any = self.select_for_update().filter(pk=course.pk).first()
        row = found or CourseTotals(enrolment=course, **copied_from(course))
        _set(row, columns)
        row.save()
        return row


def _set(row: Any, columns: dict[str, Any]) -> None:
    for name, value in columns.items():
        setattr(row, name, value)
    first = row.first_on
    row.days_to_start = None if first is None else (first - row.waits_since).days


def month_of(day: date) -> int:
    """Months since year 0, January of which is 0."""
    return day.year * 12 + day.month - 1


def copied_from(course: Enrolment) -> dict[str, Any]:
    """The columns that a course's totals copy from it and its referral."""
    referral = course.referral
    _, waits_since = counted_from(
        referral.discharged_on, referral.condition.happened_on, referral.referred_on
    )
    return {
        "site": course.patient.site,
        "starts_on": course.starts_on,
        "starts_in": month_of(course.starts_on),
        "planned": course.sessions_planned,
        "has_ended": course.closed_on is not None,
        "outcome": course.outcome,
        "waits_since": waits_since,
    }


class CourseTotals(models.Model):
    """What a course came to, on one narrow row: the program's figures read nothing else.

    Ten years at ten sites are a hundred thousand courses and millions of visits; figures that
    count visits at each request take seconds. Whoever writes what a column is made of tells it in
    the same transaction: a course when it is saved, the referral's service, the counting of visits,
    the assessments' services. ``manage.py verify_totals`` works every row out anew from the record
    and says what differs.
    """

    of_site = "site"

    enrolment = models.OneToOneField(
        Enrolment, on_delete=models.PROTECT, primary_key=True, related_name="totals"
    )
    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="+")
    starts_on = models.DateField()
    starts_in = models.PositiveIntegerField()  # the month, as a number that groups cheaply
    planned = models.PositiveSmallIntegerField()
    has_ended = models.BooleanField()
    outcome = models.CharField(max_length=12, blank=True, default="")
    waits_since = models.DateField()  # discharge, else event, else referral
    sessions = models.PositiveSmallIntegerField(default=0)
    sessions_in_36_weeks = models.PositiveSmallIntegerField(default=0)
    first_on = models.DateField(null=True)
    days_to_start = models.IntegerField(null=True)
    has_exit = models.BooleanField(default=False)

    objects: ClassVar[Any] = CourseTotalsQuerySet.as_manager()

    class Meta:
        indexes = [
            # Everything the figures read, so that they read nothing but this.
            models.Index(
                name="coursetotals_figures_idx",
                fields=[
                    "site",
                    "starts_in",
                    "starts_on",
                    "has_ended",
                    "sessions",
                    "sessions_in_36_weeks",
                    "planned",
                    "has_exit",
                    "days_to_start",
                    "outcome",
                ],
            )
        ]

    def __str__(self) -> str:
        return f"{self.sessions} sessions of {self.enrolment}"
