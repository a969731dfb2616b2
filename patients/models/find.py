"""The words by which somebody is found, so that nobody's name is searched letter by letter.

Derived from the person whenever one is saved (``PatientQuerySet``); ``manage.py verify_totals``
proves and rebuilds it.
"""

from collections.abc import Iterable
from typing import Any, ClassVar

from django.db import models
from django.db.models.lookups import Lookup

from patients.calc.find import LONGEST, keys_of
from patients.history import ScopedQuerySet


class KeyField(models.CharField):
    """Small letters and digits only, asked for by their beginning: ``__begins``."""


@KeyField.register_lookup
class Begins(Lookup):
    """A key that begins with a word. SQLite's LIKE, blind to case, would not use the index."""

    lookup_name = "begins"

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        column, params = self.process_lhs(compiler, connection)
        return f"{column} LIKE %s", [*params, f"{self.rhs}%"]

    def as_sqlite(self, compiler: Any, connection: Any) -> Any:
        column, params = self.process_lhs(compiler, connection)
        word = str(self.rhs)
        after = word[:-1] + chr(ord(word[-1]) + 1)
        return f"({column} >= %s AND {column} < %s)", [*params, word, *params, after]


class FindKeyQuerySet(ScopedQuerySet):
    def renew(self, patients: Iterable[Any], *, store: bool = True) -> int:
        """Make the keys of these people what their names and numbers say; of how many they differ.

        Nothing is changed where ``store`` is off.
        """
        people = list(patients)
        stored: dict[int, set[str]] = {p.pk: set() for p in people}
        for pk, key in self.filter(patient__in=stored).values_list("patient", "key"):
            stored[pk].add(key)
        new: list[Any] = []
        n_changed = 0
        for p in people:
            wanted = keys_of(p.given_name, p.family_name, p.record_number, p.phone)
            new += [FindKey(patient_id=p.pk, key=key) for key in wanted - stored[p.pk]]
            gone = stored[p.pk] - wanted
            if gone and store:
                self.filter(patient=p.pk, key__in=gone).delete()
            n_changed += bool(gone or wanted - stored[p.pk])
        if store:
            self.bulk_create(new, batch_size=2000, ignore_conflicts=True)
        return n_changed


class FindKey(models.Model):
    of_site = "patient__site"

    patient = models.ForeignKey("patients.Patient", on_delete=models.CASCADE, related_name="+")
    key = KeyField(max_length=LONGEST)

    objects: ClassVar[Any] = FindKeyQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(name="findkey_once", fields=["patient", "key"])]
        indexes = [
            models.Index(
                name="findkey_begins_idx",
                fields=["key", "patient"],
                opclasses=["varchar_pattern_ops", "int8_ops"],
            )
        ]

    def __str__(self) -> str:
        return self.key
