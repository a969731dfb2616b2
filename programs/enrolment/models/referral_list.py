"""A list of referrals that came as a file, from its questions to done."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from patients.history import ScopedQuerySet

WAITING, ADDED, KNOWN, CHANGED, REFUSED = ".", "a", "k", "c", "r"


class ListLayout(models.Model):
    """How the lists of one sender are read: what was answered once for a whole file."""

    of_site = "site"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=80)
    headers = models.JSONField()  # names of columns as they are compared
    answers = models.JSONField(default=dict, blank=True)  # question of a whole file -> answer
    is_active = models.BooleanField("in use", default=True)
    version = models.PositiveIntegerField(default=1, editable=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now=True)

    objects: ClassVar[Any] = ScopedQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                name="listlayout_one_of_a_name",
                fields=["site", "name"],
                violation_error_message="This site already has a layout of this name.",
            )
        ]

    def __str__(self) -> str:
        return self.name


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
    layout = models.ForeignKey(
        ListLayout, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
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
