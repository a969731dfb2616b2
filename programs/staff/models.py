"""Sites, the people who work there, and the cards they must keep valid."""

import zoneinfo
from datetime import date, datetime
from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils import timezone
from simple_history.models import HistoricalRecords

from programs.staff.roles import Role


def known_timezone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"{name} is not a time zone name such as America/Denver.")


class Site(models.Model):
    name = models.CharField(max_length=80, unique=True)
    code = models.SlugField(max_length=8, unique=True)
    timezone = models.CharField(max_length=64, default="UTC", validators=[known_timezone])
    phone = models.CharField(max_length=40, blank=True)
    emergency_card = models.TextField(
        blank=True, help_text="What to do first in an emergency, as the local plan says."
    )
    idle_minutes = models.PositiveSmallIntegerField(
        "sign out after minutes without activity", default=15
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                name="site_idle_minutes_bounds",
                condition=Q(idle_minutes__gte=2, idle_minutes__lte=120),
                violation_error_message="Sign-out must come after 2 to 120 idle minutes.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def now(self) -> datetime:
        """This instant on the site's wall clock."""
        return timezone.now().astimezone(zoneinfo.ZoneInfo(self.timezone))

    def today(self) -> date:
        """The clinical day: the site's own, whatever the server's clock says."""
        return self.now().date()


class PeopleManager(UserManager["User"]):
    """The first account of an installation is its administrator."""

    def create_superuser(self, username: str, *args: Any, **fields: Any) -> "User":
        fields.setdefault("role", Role.ADMINISTRATOR)
        return super().create_superuser(username, *args, **fields)


class User(AbstractUser):
    role = models.CharField(max_length=16, choices=Role, default=Role.FLOOR)
    sites = models.ManyToManyField(Site, related_name="staff", blank=True)
    title = models.CharField(max_length=40, blank=True, help_text="For example RN, MD, CEP.")
    history = HistoricalRecords(excluded_fields=["last_login", "password"], m2m_fields=[sites])

    objects: ClassVar[Any] = PeopleManager()

    class Meta(AbstractUser.Meta):
        constraints = [
            models.CheckConstraint(
                name="user_role_known",
                condition=Q(
                    role__in=["floor", "clinician", "physician", "manager", "administrator"]
                ),
            )
        ]
        permissions = [
            ("change_setting", "May change settings of the program"),
            ("view_looks", "May see who looked at what"),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    def site_ids(self) -> list[int]:
        """The sites this person works at, read once a request."""
        if not hasattr(self, "_site_ids"):
            self._site_ids = [site.pk for site in self.my_sites()]
        return self._site_ids

    def my_sites(self) -> list[Site]:
        if not hasattr(self, "_my_sites"):
            self._my_sites = list(self.sites.all())
        return self._my_sites

    @property
    def is_physician(self) -> bool:
        return self.role == Role.PHYSICIAN


class Credential(models.Model):
    """A card or licence with an end date."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="credentials")
    kind = models.CharField(max_length=60, help_text="For example BLS, ACLS, state licence.")
    expires_on = models.DateField()
    history = HistoricalRecords()

    class Meta:
        ordering = ["expires_on", "kind"]

    def __str__(self) -> str:
        return f"{self.kind} of {self.user}"


class DemoMark(models.Model):
    """Stands only in a database the demo command filled; without it nothing is ever reset."""

    seed = models.IntegerField()
    at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"demo, seed {self.seed}"
