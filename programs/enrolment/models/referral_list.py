"""A list of referrals that came as a file, from preview to done."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from patients.history import ScopedQuerySet


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
    mapping = models.JSONField(default=dict)  # field -> column index
    date_order = models.CharField(max_length=12, blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.PREVIEW)
    n_added = models.PositiveIntegerField(default=0)
    n_known = models.PositiveIntegerField(default=0)
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
        """How many rows have met their fate: each is added, known or refused."""
        return self.n_added + self.n_known + len(self.rejected)
