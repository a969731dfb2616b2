"""Care given on the floor beside exercise: treating a low glucose, teaching, home reports."""

from datetime import timedelta

from django.db import models
from django.db.models import Q
from django.utils.timezone import localtime
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.calc.limits import CARBOHYDRATE_G, HOME_MINUTES, HOME_STEPS
from patients.constraints import within
from patients.history import ClinicalModel
from patients.wall import clock
from programs.attendance.calc.low_glucose import RECHECK_MINUTES
from programs.attendance.calc.teaching import COMPONENTS
from programs.attendance.models.visit import Visit
from programs.enrolment.models import Enrolment


class Carbohydrate(ClinicalModel):
    """Fast carbohydrate given for a low; the recheck follows fifteen minutes later."""

    of_site = "visit__enrolment__patient__site"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="carbohydrates")
    grams = models.PositiveSmallIntegerField()
    what = models.CharField(max_length=60, blank=True, default="")
    given_at = models.DateTimeField()
    is_withdrawn = models.BooleanField("entered in error", default=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["given_at", "pk"]
        constraints = [within("grams", CARBOHYDRATE_G, table="carbohydrate")]

    def __str__(self) -> str:
        return f"{self.grams} g at {clock(localtime(self.given_at))}"

    @property
    def recheck_at(self):
        return self.given_at + timedelta(minutes=RECHECK_MINUTES)


class Teaching(ClinicalModel):
    """A topic taught to one person, under one of the core components."""

    of_site = "enrolment__patient__site"

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="teachings")
    on = models.DateField("day")
    component = models.CharField(max_length=12, choices=[(c.id, c.name) for c in COMPONENTS])
    topic = models.CharField(max_length=120)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    is_withdrawn = models.BooleanField("entered in error", default=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="teaching_minutes_possible",
                condition=Q(minutes=None) | Q(minutes__gte=1, minutes__lte=240),
                violation_error_message="Teaching lasts 1 to 240 minutes.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.topic}, {in_words(self.on)}"


class HomeReport(ClinicalModel):
    """What somebody says about exercise at home in one week."""

    of_site = "enrolment__patient__site"

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="home_reports")
    week_of = models.DateField("week beginning")
    minutes = models.PositiveSmallIntegerField("minutes in the week", null=True, blank=True)
    days = models.PositiveSmallIntegerField("days with exercise", null=True, blank=True)
    steps = models.PositiveIntegerField("steps on a usual day", null=True, blank=True)
    symptoms = models.CharField(max_length=200, blank=True, default="")
    has_symptoms = models.BooleanField("symptoms", null=True, blank=True, default=None)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-week_of"]
        constraints = [
            models.UniqueConstraint(
                name="homereport_one_a_week",
                fields=["enrolment", "week_of"],
                violation_error_message="This week is already reported; correct it there.",
            ),
            within("minutes", HOME_MINUTES, table="homereport"),
            within("steps", HOME_STEPS, table="homereport"),
            models.CheckConstraint(
                name="homereport_days_possible",
                condition=Q(days=None) | Q(days__lte=7),
                violation_error_message="A week has 0 to 7 days.",
            ),
            models.CheckConstraint(
                name="homereport_says_something",
                condition=Q(minutes__isnull=False)
                | Q(days__isnull=False)
                | Q(steps__isnull=False)
                | Q(has_symptoms__isnull=False),
                violation_error_message="Fill in at least one of minutes, days, steps, symptoms.",
            ),
        ]

    def __str__(self) -> str:
        return f"week of {self.week_of}"
