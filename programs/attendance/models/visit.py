"""A person's visit to a class."""

from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, ClassVar

from django.db import models
from django.db.models import Count, F, Max, Min, Q
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.calc.limits import (
    SESSION_MINUTES,
)
from patients.constraints import within
from patients.history import ClinicalQuerySet, VersionedModel
from programs.attendance.calc.counting import session_code
from programs.attendance.models.meeting import ClassMeeting
from programs.enrolment.models import Enrolment
from programs.enrolment.models.day_totals import CountedByDay
from programs.prescription.models import Prescription
from programs.prescription.queries import dose_on

FIRST, SECOND = Q(counts_first=True), Q(counts_second=True)


def n_sessions_where(also: Q | None = None) -> Any:
    """An expression that counts sessions, first and second of a day, where something holds."""
    also = also or Q()
    return Count("pk", filter=FIRST & also) + Count("pk", filter=SECOND & also)


@dataclass
class Sessions:
    """Counted sessions of a course and the days of its first and last."""

    n: int
    first_on: date
    last_on: date


class VisitQuerySet(ClinicalQuerySet):
    """What counts as a session is read here and nowhere else."""

    def counted(self) -> "VisitQuerySet":
        """Visits that count as one session, or as two."""
        return self.filter(FIRST | SECOND)

    def n_sessions(self) -> int:
        """Counted sessions among these visits."""
        return int(self.aggregate(n=n_sessions_where())["n"])

    def sessions_by_course(self) -> dict[int, Sessions]:
        """Counted sessions by enrolment, of those that have any.

        Two queries that read an index alone: second sessions mostly share a row with a first, and
        the few others are added.
        """
        firsts = (
            self.filter(FIRST)
            .order_by()
            .values_list("enrolment")
            .annotate(
                n=Count("pk"),
                twice=Count("pk", filter=SECOND),
                first_on=Min("on"),
                last_on=Max("on"),
            )
        )
        found = {pk: Sessions(n + twice, first, last) for pk, n, twice, first, last in firsts}
        seconds = self.filter(SECOND, counts_first=False).order_by().values_list("enrolment")
        for pk, n in seconds.annotate(Count("pk")):
            found[pk].n += n  # a second session of a day never stands without a first
        return found


class Visit(CountedByDay, VersionedModel):
    of_site = "enrolment__patient__site"
    of_class = "meeting.slot"

    class State(models.TextChoices):
        EXPECTED = "expected", "expected"  # an arrival or absence that was undone
        ARRIVED = "arrived", "checked in"
        EXERCISING = "exercising", "exercising"
        FINISHED = "finished", "finished"
        HELD = "held", "held"
        STOPPED = "stopped", "stopped"
        ABSENT = "absent", "absent"

    ENDED = frozenset({State.FINISHED, State.HELD, State.STOPPED})
    EXERCISED = frozenset({State.FINISHED, State.STOPPED})

    class Absence(models.TextChoices):
        ILL = "ill", "ill"
        HOSPITAL = "hospital", "in hospital"
        APPOINTMENT = "appointment", "other appointment"
        TRANSPORT = "transport", "transport"
        WORK = "work", "work or family"
        WEATHER = "weather", "weather"
        HOLIDAY = "holiday", "away"
        UNKNOWN = "unknown", "did not say"

    class Ketones(models.TextChoices):
        NONE = "none", "none or trace"
        SMALL = "small", "small"
        MODERATE = "moderate", "moderate"
        LARGE = "large", "large"

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="visits")
    meeting = models.ForeignKey(ClassMeeting, on_delete=models.PROTECT, related_name="visits")
    on = models.DateField()  # copied from the meeting: reports count by enrolment and day
    state = models.CharField(max_length=12, choices=State)
    absence = models.CharField("reason", max_length=12, choices=Absence, blank=True, default="")
    arrived_at = models.DateTimeField(null=True, blank=True)
    started_at = models.DateTimeField("exercise began", null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField("session minutes", null=True, blank=True)
    counts_first = models.BooleanField(default=False, editable=False)
    counts_second = models.BooleanField(default=False, editable=False)
    # question id -> yes or no; what is not in it was not asked (calc/questions.py)
    answers = models.JSONField(default=dict, blank=True)
    symptoms = models.CharField("comments", max_length=200, blank=True)
    ketones = models.CharField(max_length=8, choices=Ketones, blank=True, default="")
    last_meal_at = models.TimeField("last meal", null=True, blank=True)
    last_dose_at = models.TimeField("last insulin or tablet", null=True, blank=True)
    left_early = models.CharField("left early because", max_length=120, blank=True, default="")
    has_ecg = models.BooleanField("continuous ECG monitoring", null=True, blank=True, default=None)
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
                name="visit_starts_after_arrival",
                condition=Q(started_at=None)
                | Q(arrived_at=None)
                | Q(started_at__gte=F("arrived_at")),
                violation_error_message="Exercise cannot begin before the arrival.",
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
            models.Index(
                name="visit_second_idx",
                fields=["enrolment"],
                condition=Q(counts_second=True, counts_first=False),
            ),
            models.Index(fields=["meeting", "state"]),
        ]

    def __str__(self) -> str:
        return f"visit of {self.enrolment.patient} on {in_words(self.on)}"

    @cached_property
    def dose(self) -> Prescription | None:
        """The prescription in force at the end of the visit's day, asked for once a request."""
        return dose_on(self.enrolment_id, self.on)

    @property
    def sessions_counted(self) -> int:
        return self.counts_first + self.counts_second

    @property
    def session_code(self) -> str:
        """The CPT number of a counted session, "" while the ECG is not noted."""
        return session_code(self.has_ecg) if self.sessions_counted else ""

    @property
    def has_ended(self) -> bool:
        return self.state in self.ENDED
