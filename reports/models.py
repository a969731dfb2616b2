"""What a site wants of its program, and questions somebody asks again."""

from typing import Any, ClassVar

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.history import VersionedModel
from programs.enrolment.calc.start_clock import TARGET_DAYS
from reports.calc.completion import DEFINITIONS

SHARES = ("got_in", "in_time", "stayed", "finished")


def _at_least(words: str) -> Any:
    return models.PositiveSmallIntegerField(
        words,
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="Per cent, at least. Empty sets no target.",
    )


class ProgramTargets(VersionedModel):
    """The shares a site wants to reach; who referred, began or ended is counted as the page does.

    Nobody is judged by them but the program: what they stand beside says how sure the share is.
    """

    of_site = "site"

    site = models.OneToOneField(
        "staff.Site", on_delete=models.PROTECT, related_name="program_targets", editable=False
    )
    got_in = _at_least("of those referred, begin")
    in_time = _at_least(f"of those who begin, within {TARGET_DAYS} days of discharge or event")
    stayed = _at_least("of those who begin, still come in week 12")
    finished = _at_least("of those whose course ended, finished")
    finished_by = models.CharField(
        "finished means",
        max_length=20,
        choices=[(d.key, d.name) for d in DEFINITIONS],
        default=DEFINITIONS[0].key,
        help_text="The target stands beside this definition only.",
    )
    source = models.CharField(max_length=200, help_text="Who decided on these, and when.")
    history = HistoricalRecords()

    class Meta:
        constraints: ClassVar[Any] = [
            models.CheckConstraint(
                name=f"programtargets_{name}_a_share",
                condition=Q(**{name: None}) | Q(**{f"{name}__gte": 1, f"{name}__lte": 100}),
                violation_error_message="A target is 1 to 100 per cent.",
            )
            for name in SHARES
        ]

    def __str__(self) -> str:
        return f"targets of {self.site}"

    def clean(self) -> None:
        if all(getattr(self, name) is None for name in SHARES) and self.pk is None:
            raise ValidationError("Set at least one target.")


class KeptQuestion(models.Model):
    """A question to the program's page that somebody asks again, under a name of their own.

    Only what is asked is kept: whose figures come out is decided anew each time it is asked.
    """

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="kept_questions"
    )
    name = models.CharField(max_length=60)
    address = models.TextField()  # of the program's page, after "?"

    class Meta:
        ordering: ClassVar[Any] = ["name", "pk"]
        constraints: ClassVar[Any] = [
            models.UniqueConstraint(name="keptquestion_name_once", fields=["user", "name"])
        ]

    def __str__(self) -> str:
        return self.name
