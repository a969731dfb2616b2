"""A list of referrals that came as a file, from its questions to done."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from patients.history import ScopedQuerySet

WAITING, ADDED, KNOWN, CHANGED, REFUSED = ".", "a", "k", "c", "r"


class ReferralList(models.Model):
    of_site = "site"

    class State(models.TextChoices):
        PREVIEW = "preview", "in preview"
        DONE = "done", "taken in"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    name = models.CharField(max_length=200)
    data = models.BinaryField()
    answers = models.JSONField(default=dict)  # key of a question -> answer
    fates = models.TextField(blank=True)  # a letter for each row in the order of the file
    state = models.CharField(max_length=8, choices=State, default=State.PREVIEW)
    n_added = models.PositiveIntegerField(default=0)
    n_known = models.PositiveIntegerField(default=0)
    n_changed = models.PositiveIntegerField(default=0)
    rejected = models.JSONField(default=list)  # [{"line", "cells", "reasons"}]

    objects: ClassVar[Any] = ScopedQuerySet.as_manager()

    class Meta:
        ordering = ["-at"]
        constraints = [
            models.CheckConstraint(
                name="referrallist_state_known", condition=Q(state__in=["preview", "done"])
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def n_taken(self) -> int:
        """How many rows have met their fate: added, known, changed or refused."""
        return self.n_added + self.n_known + self.n_changed + len(self.rejected)

    def fate(self, place: int) -> str:
        """The letter of a row, counted from 0; one not yet looked at waits."""
        return self.fates[place] if place < len(self.fates) else WAITING
