"""Every change to one person's record: who, when, what, before and after.

Read from the versions django-simple-history keeps, each kind of row in a table of its own. One
query finds the newest of all; those on a page are read kind by kind.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import cache
from typing import Any

from django.db.models import IntegerField, QuerySet, Value
from django.utils.timezone import localtime

from assessments.models import Assessment, Concern, Measurement
from patients.calc.days import in_words
from patients.calc.measuring import GLUCOSE, HEIGHT, SPEED, STORED, TEMPERATURE, WEIGHT, Unit, Units
from patients.models import (
    Allergy,
    Condition,
    Device,
    Medicine,
    Patient,
    Precaution,
    Procedure,
)
from patients.prepared import Prepared
from patients.wall import clock
from programs.attendance.models import (
    Bout,
    Carbohydrate,
    EventEntry,
    Finding,
    HomeReport,
    Interruption,
    PersonLimit,
    Reading,
    RhythmFinding,
    SafetyEvent,
    Teaching,
    Visit,
)
from programs.enrolment.models import (
    ContactAttempt,
    EligibilityAnswer,
    Enrolment,
    EntryScreen,
    Pause,
    Referral,
    ReferralDocument,
    RiskStratification,
)
from programs.prescription.models import Prescription, TreatmentPlan
from programs.staff.queries import people_by

# Each kind of row and how it leads to its patient.
KINDS: tuple[tuple[Any, str], ...] = (
    (Patient, "pk"),
    (Condition, "patient"),
    (Medicine, "patient"),
    (Device, "patient"),
    (Precaution, "patient"),
    (Procedure, "patient"),
    (Allergy, "patient"),
    (EntryScreen, "patient"),
    (RiskStratification, "patient"),
    (Referral, "patient"),
    (EligibilityAnswer, "referral__patient"),
    (ContactAttempt, "referral__patient"),
    (ReferralDocument, "referral__patient"),
    (Enrolment, "patient"),
    (Pause, "enrolment__patient"),
    (Prescription, "enrolment__patient"),
    (TreatmentPlan, "enrolment__patient"),
    (Visit, "enrolment__patient"),
    (Reading, "visit__enrolment__patient"),
    (Bout, "visit__enrolment__patient"),
    (RhythmFinding, "visit__enrolment__patient"),
    (Finding, "visit__enrolment__patient"),
    (Interruption, "visit__enrolment__patient"),
    (Carbohydrate, "visit__enrolment__patient"),
    (SafetyEvent, "patient"),
    (EventEntry, "event__patient"),
    (Teaching, "enrolment__patient"),
    (HomeReport, "enrolment__patient"),
    (PersonLimit, "patient"),
    (Assessment, "enrolment__patient"),
    (Measurement, "assessment__enrolment__patient"),
    (Concern, "assessment__enrolment__patient"),
)
# Bookkeeping that says nothing to a reader.
QUIET = {"id", "version", "counts_first", "counts_second", "created_at", "submission_key"}


@dataclass(frozen=True)
class FieldChange:
    name: str
    before: str
    after: str


@dataclass(frozen=True)
class ChangeLine:
    """One version of one row."""

    at: datetime
    by: str
    what: str
    row: int
    reason: str
    is_new: bool
    fields: list[FieldChange]


@dataclass(frozen=True)
class Version:
    """A version by its key: which kind of row, which version of that kind, and of which row."""

    kind: int  # place in KINDS
    pk: int
    row: int

    @property
    def key(self) -> str:
        return f"{self.kind}-{self.pk}"


def _newest(patient: int) -> QuerySet[Any, Any]:
    """The keys of all versions of a person's rows, the newest first."""
    parts = []
    for n, (model, path) in enumerate(KINDS):
        rows = model.objects.filter(**{path: patient}).order_by().values("pk")
        versions = model.history.filter(id__in=rows).order_by()
        kind = Value(n, output_field=IntegerField())
        parts.append(versions.values_list("history_date", kind, "history_id", "id"))
    return parts[0].union(*parts[1:], all=True).order_by("-history_date", "-history_id")


NEWEST = Prepared(_newest, patient=int)


def versions_of(patient: Patient) -> list[Version]:
    """Every version of everything about a person by its key, newest first: one query."""
    return [Version(*key) for _, *key in NEWEST(patient=patient.pk)]


# What is read of a version beside its fields.
HEAD = ["history_id", "id", "history_date", "history_change_reason", "history_user"]
USER = HEAD.index("history_user")


class _Kind:
    """One kind of row: the fields that say something to a reader, and how versions are found."""

    def __init__(self, model: Any) -> None:
        self.what = str(model._meta.verbose_name)
        told = [field for field in model._meta.concrete_fields if field.name not in QUIET]
        self.columns = [field.attname for field in told]
        self.fields = [
            (field.name, str(field.verbose_name), dict(field.flatchoices), field.is_relation)
            for field in told
        ]
        self.model = model
        self.versions = Prepared(self._versions, rows=list)

    def _versions(self, rows: Any) -> QuerySet[Any, Any]:
        """All versions of some rows, oldest first."""
        found = self.model.history.filter(id__listed=rows).order_by("history_date", "history_id")
        return found.values_list(*HEAD, *self.columns)

    def changed(
        self, new: Sequence[Any], old: Sequence[Any] | None, units: Units
    ) -> list[FieldChange]:
        """What differs from the version before; all that was filled in for a first version."""
        found = []
        for place, (key, name, labels, is_relation) in enumerate(self.fields):
            now = new[place]
            if old is None:
                if is_relation or now is None or now in ("", [], {}, False):
                    continue
                was = None
            else:
                was = old[place]
                if now == was:
                    continue
            told = [
                _measured(key, one, units) or _words(labels.get(one, one) if labels else one)
                for one in (was, now)
            ]
            found.append(FieldChange(name, *told))
        return found


@cache
def _kind(place: int) -> _Kind:
    return _Kind(KINDS[place][0])


def lines_of(versions: Sequence[Version], units: Units = STORED) -> list[ChangeLine]:
    """Versions with what they changed, numbers as stored and in the units of whoever reads.

    One query of bare values for each kind among them, and one for the names of who saved them.
    """
    rows_of: dict[int, set[int]] = defaultdict(set)
    for one in versions:
        rows_of[one.kind].add(one.row)
    read = {place: _kind(place).versions(rows=rows) for place, rows in rows_of.items()}
    users = people_by({row[USER] for rows in read.values() for row in rows} - {None})
    wanted = set(versions)
    found: dict[Version, ChangeLine] = {}
    for place, rows in read.items():
        kind = _kind(place)
        earlier: dict[int, Sequence[Any]] = {}
        for pk, row, at, reason, user, *values in rows:
            version = Version(place, pk, row)
            if version in wanted:
                before = earlier.get(row)
                found[version] = ChangeLine(
                    at=at,
                    by="the program" if user is None else str(users[user]),
                    what=kind.what,
                    row=row,
                    reason=reason or "",
                    is_new=before is None,
                    fields=kind.changed(values, before, units),
                )
            earlier[row] = values
    return [found[one] for one in versions]


# How the name of a column ends whose number is written in two units.
ENDS = (
    ("mgdl", GLUCOSE), ("kg", WEIGHT), ("reported_height_cm", HEIGHT), ("kmh", SPEED),
    ("temperature_c", TEMPERATURE),
)  # fmt: skip


def _measured(name: str, value: Any, units: Units) -> str:
    """A number as stored, and beside it in the unit of whoever reads; "" for anything else."""
    if not isinstance(value, float):
        return ""
    quantity = next((one for end, one in ENDS if name.endswith(end)), None)
    if quantity is None:
        return ""
    own: Unit = getattr(units, quantity.key)
    told = f"{value:g} {quantity.first}"
    return told if own is quantity.first else f"{told} ({own.told(value)})"


def _words(value: Any) -> str:
    if value is None or value == "":
        return "empty"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        at = localtime(value)
        return f"{in_words(at)}, {clock(at)}"
    if isinstance(value, date):
        return in_words(value)
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return "; ".join(_words(one) for one in value) or "empty"
    if isinstance(value, dict):
        told = {key: one for key, one in value.items() if one not in (None, "", [], {})}
        # PostgreSQL keeps no order of names.
        return ", ".join(f"{k.replace('_', ' ')} {_words(told[k])}" for k in sorted(told))
    return clock(value) if isinstance(value, time) else str(value)
