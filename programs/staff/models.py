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

from patients.calc.days import in_words
from patients.calc.measuring import QUANTITIES, Units, units_from
from patients.history import ClinicalModel
from patients.wall import Wall
from programs.staff.calc.readiness import ITEM_WORDS, LEAST_STAFF, PATIENTS_PER_STAFF
from programs.staff.roles import Role


def known_timezone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"{name} is not a time zone name such as America/Denver.")


class Site(models.Model):
    class Hours(models.TextChoices):
        OF_24 = "24", "14:30"
        OF_12 = "12", "2:30 pm"

    class Dates(models.TextChoices):
        MONTH_FIRST = "mdy", "mm/dd/yyyy"
        DAY_FIRST = "dmy", "dd/mm/yyyy"
        YEAR_FIRST = "iso", "yyyy-mm-dd"

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
    patients_per_staff = models.PositiveSmallIntegerField(
        "patients to one staff, at most", default=PATIENTS_PER_STAFF
    )
    least_staff = models.PositiveSmallIntegerField(
        "staff in a class, at least", default=LEAST_STAFF
    )
    shows_mmoll = models.BooleanField("glucose in mmol/L", default=False)
    shows_pounds = models.BooleanField("weight in pounds", default=False)
    shows_feet = models.BooleanField("height in feet and inches", default=False)
    shows_mph = models.BooleanField("speed in mph", default=False)
    shows_fahrenheit = models.BooleanField("temperature in °F", default=False)
    hours = models.CharField("hours are written", max_length=2, choices=Hours, default=Hours.OF_24)
    dates = models.CharField(
        "dates in boxes",
        max_length=3,
        choices=Dates,
        default=Dates.YEAR_FIRST,
        help_text="In sentences they are always such as 26 Nov 2026.",
    )
    keeps_drafts = models.BooleanField(
        "keep what is typed in the browser until it is saved",
        default=True,
        help_text="For twelve hours at most; wiped at sign-out.",
    )
    clinicians_sign = models.BooleanField(
        "clinicians may sign treatment plans",
        default=False,
        help_text="Only where local law allows it. In the US a physician signs: 42 CFR 410.49.",
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                name="site_idle_minutes_bounds",
                condition=Q(idle_minutes__gte=2, idle_minutes__lte=120),
                violation_error_message="Sign-out must come after 2 to 120 idle minutes.",
            ),
            models.CheckConstraint(
                name="site_ratio_bounds",
                condition=Q(patients_per_staff__gte=1, patients_per_staff__lte=10)
                & Q(least_staff__gte=1, least_staff__lte=10),
                violation_error_message="Between 1 and 10 patients to one staff, 1 to 10 staff.",
            ),
            models.CheckConstraint(
                name="site_writing_known",
                condition=Q(hours__in=["12", "24"], dates__in=["mdy", "dmy", "iso"]),
                violation_error_message="Hours are of 12 or 24; dates mdy, dmy or iso.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def wall(self) -> Wall:
        """How hours and days are written here."""
        return Wall(self.hours == self.Hours.OF_12, self.dates)

    @property
    def units(self) -> Units:
        """What is read and typed in here by whoever did not choose."""
        return units_from({q.switch: getattr(self, q.switch) for q in QUANTITIES})

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
    # How somebody reads is theirs, on every device and at every site; empty is as the site does.
    shows_mmoll = models.BooleanField("glucose in mmol/L", null=True, blank=True, editable=False)
    shows_pounds = models.BooleanField("weight in pounds", null=True, blank=True, editable=False)
    shows_feet = models.BooleanField(
        "height in feet and inches", null=True, blank=True, editable=False
    )
    shows_mph = models.BooleanField("speed in mph", null=True, blank=True, editable=False)
    shows_fahrenheit = models.BooleanField(
        "temperature in °F", null=True, blank=True, editable=False
    )
    # A single letter that acts can be switched off (WCAG 2.1.4): speech and shaking hands type it.
    has_letter_keys = models.BooleanField("letters are keys", default=True, editable=False)
    history = HistoricalRecords(
        excluded_fields=["last_login", "password", "has_letter_keys"]
        + [quantity.switch for quantity in QUANTITIES],
        m2m_fields=[sites],
    )

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


class CredentialQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> "CredentialQuerySet":
        """Cards of people who work at a site of this person."""
        return self.filter(user__sites__in=user.site_ids()).distinct()


class Credential(models.Model):
    """A card or licence with an end date."""

    class Kind(models.TextChoices):
        BLS = "BLS", "basic life support"
        ACLS = "ACLS", "advanced life support"
        LICENCE = "licence", "licence"
        OTHER = "other", "other"

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="credentials")
    kind = models.CharField(max_length=12, choices=Kind)
    number = models.CharField("number or note", max_length=60, blank=True, default="")
    expires_on = models.DateField("valid until")
    history = HistoricalRecords()

    objects: ClassVar[Any] = CredentialQuerySet.as_manager()

    class Meta:
        ordering = ["expires_on", "kind"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.user}"


class OpeningCheck(ClinicalModel):
    """Equipment looked at before opening; a later one of the same day takes its place."""

    of_site = "site"

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="opening_checks")
    on = models.DateField()
    answers = models.JSONField(default=dict)  # item -> in order; not in it: not looked at
    note = models.CharField(max_length=200, blank=True, default="")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-on", "-at", "-pk"]

    def __str__(self) -> str:
        return f"opening check of {in_words(self.on)}"

    @property
    def wrong(self) -> list[str]:
        """Items not in order or not looked at, in words."""
        return [words for key, words in ITEM_WORDS.items() if self.answers.get(key) is not True]


class Drill(ClinicalModel):
    """An emergency drill, at least every quarter."""

    of_site = "site"

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="drills")
    on = models.DateField("day")
    scenario = models.CharField(max_length=120)
    who = models.CharField("who took part", max_length=200)
    learned = models.TextField("what was learned", blank=True, default="")
    is_withdrawn = models.BooleanField("entered in error", default=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-on", "-pk"]

    def __str__(self) -> str:
        return f"{self.scenario}, {in_words(self.on)}"


class DemoMark(models.Model):
    """Stands only in a database the demo command filled; without it nothing is ever reset."""

    seed = models.IntegerField()
    at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"demo, seed {self.seed}"


class PasswordPace(models.Model):
    """Wrong passwords for one account from one place; gone with the right one, or in a day."""

    account = models.CharField(max_length=64)  # stands for the name, which is not kept
    place = models.CharField(max_length=80)
    address = models.CharField(max_length=45, blank=True)  # of a stranger; of nobody known
    n_wrong = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="passwordpace_once",
                fields=["account", "place"],
                violation_error_message="This place is counted already.",
            )
        ]
        indexes = [models.Index(fields=["address", "last_at"]), models.Index(fields=["last_at"])]

    def __str__(self) -> str:
        return f"{self.n_wrong} wrong"


class KnownDevice(models.Model):
    """A browser that signed in to an account before."""

    account = models.CharField(max_length=64)
    device = models.CharField(max_length=64)
    seen_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="knowndevice_once",
                fields=["account", "device"],
                violation_error_message="This browser is known already.",
            )
        ]
        indexes = [models.Index(fields=["seen_at"])]

    def __str__(self) -> str:
        return f"seen {self.seen_at}"
