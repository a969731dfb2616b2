"""The person: who they are and whom to call."""

from collections.abc import Callable
from typing import Any, ClassVar

from django.db import models, transaction
from django.db.models import Q
from simple_history.models import HistoricalRecords

from patients.calc.age import EARLIEST_BIRTH
from patients.calc.find import take_days, typed_words
from patients.calc.person import Person
from patients.history import ClinicalQuerySet, VersionedModel
from patients.models.find import FindKey

# Told in the same transaction when a person is saved: other rooms keep totals by sex and age.
TOLD_OF_PEOPLE: list[Callable[["Patient"], None]] = []


class PatientQuerySet(ClinicalQuerySet):
    def matching(self, typed: str) -> "PatientQuerySet":
        """People of whom every word begins a name, the record number or the phone.

        Names may stand in either order; a whole date is the birth date.
        """
        days, rest = take_days(typed)
        found = self.filter(born_on__in=days) if days else self
        for word in typed_words(rest):
            keys = FindKey.objects.filter(key__begins=word).values("patient")
            found = found.filter(pk__in=keys)
        return found

    def bulk_create(self, objs: Any, *args: Any, **kwargs: Any) -> Any:
        made = super().bulk_create(objs, *args, **kwargs)
        FindKey.objects.renew(made)
        return made

    def bulk_update(self, objs: Any, fields: Any, *args: Any, **kwargs: Any) -> Any:
        n = super().bulk_update(objs, fields, *args, **kwargs)
        FindKey.objects.renew(objs)
        for person in objs:
            _tell(person)
        return n


def _tell(person: "Patient") -> None:
    for hears in TOLD_OF_PEOPLE:
        hears(person)


class Patient(VersionedModel):
    of_site = "site"

    class Sex(models.TextChoices):
        FEMALE = "female", "female"
        MALE = "male", "male"
        UNRECORDED = "", "not recorded"

    class MobilityAid(models.TextChoices):
        NONE = "none", "none"
        STICK = "stick", "stick or cane"
        CRUTCHES = "crutches", "crutches"
        WALKER = "walker", "walking frame"
        WHEELCHAIR = "wheelchair", "wheelchair"
        OTHER = "other", "other"

    class Tobacco(models.TextChoices):
        NEVER = "never", "never used"
        FORMER = "former", "former user"
        CURRENT = "current", "uses now"

    site = models.ForeignKey("staff.Site", on_delete=models.PROTECT, related_name="patients")
    record_number = models.CharField(max_length=40, blank=True)
    given_name = models.CharField(max_length=80, blank=True)  # some have a single name
    family_name = models.CharField(max_length=80)
    born_on = models.DateField("date of birth")
    sex = models.CharField(
        "sex for reference equations", max_length=8, choices=Sex, blank=True, default=""
    )
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField("language spoken", max_length=40, blank=True)
    needs_interpreter = models.BooleanField(null=True, blank=True, default=None)
    emergency_name = models.CharField("emergency contact", max_length=120, blank=True)
    emergency_relation = models.CharField("relation", max_length=40, blank=True)
    emergency_phone = models.CharField("their phone", max_length=40, blank=True)
    mobility_aid = models.CharField(max_length=12, choices=MobilityAid, blank=True, default="")
    tobacco = models.CharField(max_length=8, choices=Tobacco, blank=True, default="")
    tobacco_quit_on = models.DateField("stopped smoking", null=True, blank=True)
    has_no_allergies = models.BooleanField("asked, and no allergies known", default=False)
    created_at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    objects: ClassVar[Any] = PatientQuerySet.as_manager()

    class Meta:
        ordering = ["family_name", "given_name", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="patient_one_record_number",
                fields=["site", "record_number"],
                condition=~Q(record_number=""),
                violation_error_message="This record number is already in use at this site.",
            ),
            models.CheckConstraint(
                name="patient_born_in_living_memory",
                condition=Q(born_on__gte=f"{EARLIEST_BIRTH}"),
                violation_error_message="The date of birth must be after 1900.",
            ),
            models.CheckConstraint(
                name="patient_quit_only_when_former",
                condition=Q(tobacco_quit_on=None) | Q(tobacco="former"),
                violation_error_message="A day of stopping belongs to a former user.",
            ),
            models.CheckConstraint(
                name="patient_sex_known_word", condition=Q(sex__in=["female", "male", ""])
            ),
        ]
        indexes = [
            models.Index(fields=["site", "family_name", "given_name"]),
            models.Index(name="patient_name_idx", fields=["family_name", "given_name", "id"]),
            models.Index(name="patient_born_idx", fields=["born_on", "site"]),
        ]

    def __str__(self) -> str:
        return f"{self.given_name} {self.family_name}".strip()

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save the person, and what they are found by, together or not at all."""
        with transaction.atomic():
            is_new = self.pk is None
            super().save(*args, **kwargs)
            FindKey.objects.renew([self])
            if not is_new:
                _tell(self)

    @property
    def person(self) -> Person:
        """What the calculations may know of this patient."""
        return Person(born_on=self.born_on, sex=self.sex)
