"""What the rows of Today are made of: small facts about a site's day and a class.

Today stands open on the floor all day, so each query is compiled once (``patients.prepared``) and
gives plain tuples; ``queries_roster`` puts them together.
"""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, time
from typing import Any, NamedTuple

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from assessments.calc.schedule import Course, Due, Record, due_next
from assessments.calc.timing import Pausing
from assessments.models import Assessment, rhythm_of
from patients.models import Condition, Device, Medicine, Precaution
from patients.prepared import Prepared
from programs.attendance.models import ClassMeeting, Finding, Interruption, Reading, Visit
from programs.attendance.models.visit import n_sessions_where
from programs.enrolment.calc.risk import SUPERVISION, RiskClass
from programs.enrolment.models import (
    ClassChange,
    Enrolment,
    Pause,
    PlannedSession,
    RiskStratification,
    SupervisionPolicy,
)
from programs.prescription.models import Prescription, TreatmentPlan


class Planned(NamedTuple):
    """Somebody planned in a class of the day."""

    pk: int
    slot_id: int
    enrolment_id: int
    patient_id: int
    starts_on: date
    weeks: int
    closed_on: date | None
    outcome: str
    sessions_planned: int
    rhythm: list[list[Any]] | None  # how often the site checks, where it has a policy
    given_name: str
    family_name: str
    born_on: date
    sex: str

    @property
    def name(self) -> str:
        return f"{self.given_name} {self.family_name}"


class Seen(NamedTuple):
    """A visit, as far as the roster shows it."""

    enrolment_id: int
    slot_id: int
    pk: int
    state: str
    absence: str
    arrived_at: datetime | None
    minutes: int | None
    counts_first: bool
    counts_second: bool
    left_early: str

    @property
    def has_ended(self) -> bool:
        return self.state in Visit.ENDED


class Meeting(NamedTuple):
    """How a class of the day stands: opened, opened by exception, closed."""

    slot_id: int
    opened_at: datetime | None
    closed_at: datetime | None
    exception: str
    unmet: list[str]
    given_name: str | None
    family_name: str | None
    username: str | None

    @property
    def closed_by(self) -> str:
        return f"{self.given_name} {self.family_name}".strip() or self.username or ""


class Change(NamedTuple):
    """A class is cancelled on the day, or at another hour."""

    slot_id: int
    is_cancelled: bool
    starts_at: time | None
    reason: str


class Raised(NamedTuple):
    """A finding nobody has answered yet."""

    visit_id: int
    rule_id: str
    level: int


def _planned(site: int, on: date) -> QuerySet[Any, Any]:
    course, person = "enrolment__", "enrolment__patient__"
    return (
        PlannedSession.objects.filter(slot__site=site, on=on)
        .order_by(f"{person}family_name", "pk")
        .values_list(
            "pk", "slot", "enrolment", f"{course}patient", f"{course}starts_on",
            f"{course}weeks", f"{course}closed_on", f"{course}outcome",
            f"{course}sessions_planned", f"{person}site__assessment_policy__rhythm",
            f"{person}given_name", f"{person}family_name", f"{person}born_on", f"{person}sex",
        )
    )  # fmt: skip


def _visits(site: int, on: date) -> QuerySet[Any, Any]:
    return (
        Visit.objects.filter(meeting__slot__site=site, on=on)
        .order_by()
        .values_list(
            "enrolment", "meeting__slot", "pk", "state", "absence", "arrived_at", "minutes",
            "counts_first", "counts_second", "left_early",
        )
    )  # fmt: skip


def _meetings(site: int, on: date) -> QuerySet[Any, Any]:
    who = ["closed_by__first_name", "closed_by__last_name", "closed_by__username"]
    found = ClassMeeting.objects.filter(slot__site=site, on=on).order_by()
    return found.values_list("slot", "opened_at", "closed_at", "exception", "unmet", *who)


def _changes(site: int, on: date) -> QuerySet[Any, Any]:
    found = ClassChange.objects.filter(slot__site=site, on=on).order_by()
    return found.values_list("slot", "is_cancelled", "starts_at", "reason")


def _supervision(site: int) -> QuerySet[Any, Any]:
    found = SupervisionPolicy.objects.filter(site=site).order_by()
    return found.values_list("risk_class", "ecg_high")


def _here(slot: int, on: date, patient: str) -> Exists:
    """The person is planned in this class on this day."""
    return Exists(
        PlannedSession.objects.filter(
            slot=slot, on=on, enrolment__patient=OuterRef(patient)
        ).order_by()
    )


def _course_here(slot: int, on: date) -> Exists:
    mine = PlannedSession.objects.filter(slot=slot, on=on, enrolment=OuterRef("enrolment"))
    return Exists(mine.order_by())


def _before(slot: int, on: date) -> QuerySet[Any, Any]:
    return Reading.objects.filter(
        visit__meeting__slot=slot, visit__on=on, phase=Reading.Phase.BEFORE
    ).values_list("visit", "heart_rate_bpm", "systolic_mmhg", "diastolic_mmhg", "spo2_percent")


def _findings(slot: int, on: date) -> QuerySet[Any, Any]:
    unanswered = Finding.objects.filter(decision="", cleared_at=None)
    here = unanswered.filter(visit__meeting__slot=slot, visit__on=on)
    return here.values_list("visit", "rule_id", "level")


def _doses(slot: int, on: date) -> QuerySet[Any, Any]:
    return (
        Prescription.objects.in_force()
        .filter(_course_here(slot, on))
        .order_by()
        .values_list("enrolment", "low_bpm", "high_bpm", "rpe_low", "rpe_high")
    )


def _signed(slot: int, on: date) -> QuerySet[Any, Any]:
    plans = TreatmentPlan.objects.filter(_course_here(slot, on)).order_by()
    return plans.values_list("enrolment").annotate(Max("signed_on"))


def _counted(slot: int, on: date) -> QuerySet[Any, Any]:
    """Counted sessions of each course before this day, and on it."""
    return (
        Visit.objects.counted()
        .filter(_course_here(slot, on), on__lte=on)
        .order_by()
        .values_list("enrolment")
        .annotate(before=n_sessions_where(Q(on__lt=on)), on_day=n_sessions_where(Q(on=on)))
    )


def _stops(slot: int, on: date) -> QuerySet[Any, Any]:
    """Holds and stops of earlier visits, and of this day's other classes, not settled yet."""
    unsettled = Interruption.objects.filter(settled_at=None, is_taken_back=False)
    earlier = unsettled.filter(
        Q(visit__on__lt=on) | Q(visit__on=on) & ~Q(visit__meeting__slot=slot)
    )
    return (
        earlier.filter(_here(slot, on, "visit__enrolment__patient"))
        .order_by("at")
        .values_list("visit__enrolment__patient", "kind", "visit__on")
    )


FLAGGED = {
    Medicine.DrugClass.INSULIN: "insulin",
    Medicine.DrugClass.SECRETAGOGUE: "secretagogue",
    Medicine.DrugClass.BETA_BLOCKER: "beta-blocker",
}


def _medicines(slot: int, on: date) -> QuerySet[Any, Any]:
    taken = Medicine.objects.filter(stopped_on=None, drug_class__in=list(FLAGGED))
    here = taken.filter(_here(slot, on, "patient"))
    return here.order_by("name", "pk").values_list("patient", "drug_class")


def _failing(slot: int, on: date) -> QuerySet[Any, Any]:
    found = Condition.objects.filter(kind=Condition.Kind.HEART_FAILURE)
    return found.filter(_here(slot, on, "patient")).order_by().values_list("patient")


def _devices(slot: int, on: date) -> QuerySet[Any, Any]:
    found = Device.objects.filter(_here(slot, on, "patient"), removed_on=None)
    return found.values_list("patient", "kind", "detection_bpm")


def _precautions(slot: int, on: date) -> QuerySet[Any, Any]:
    found = Precaution.objects.filter(_here(slot, on, "patient"), lifted_on=None)
    return found.values_list("patient", "kind", "instruction")


def _risks(slot: int, on: date) -> QuerySet[Any, Any]:
    found = RiskStratification.objects.filter(_here(slot, on, "patient"))
    return found.order_by("at", "pk").values_list("patient", "decided")


def _pauses(slot: int, on: date) -> QuerySet[Any, Any]:
    found = Pause.objects.filter(_course_here(slot, on)).order_by("from_on")
    return found.values_list("enrolment", "from_on", "until_on")


def _assessments(slot: int, on: date) -> QuerySet[Any, Any]:
    found = Assessment.objects.filter(_course_here(slot, on)).order_by("pk")
    return found.values_list("enrolment", *Record._fields)


def _of_class(build: Any) -> Prepared:
    return Prepared(build, slot=int, on=date)


PLANNED = Prepared(_planned, site=int, on=date)
VISITS = Prepared(_visits, site=int, on=date)
MEETINGS = Prepared(_meetings, site=int, on=date)
CHANGES = Prepared(_changes, site=int, on=date)
OWN_SUPERVISION = Prepared(_supervision, site=int)
BEFORE, FINDINGS, DOSES, SIGNED = map(_of_class, [_before, _findings, _doses, _signed])
COUNTED, STOPS, RISKS = map(_of_class, [_counted, _stops, _risks])
MEDICINES, FAILING = map(_of_class, [_medicines, _failing])
DEVICES, PRECAUTIONS = map(_of_class, [_devices, _precautions])
PAUSES, ASSESSMENTS = map(_of_class, [_pauses, _assessments])


def planned_on(site: int, on: date) -> list[Planned]:
    """Everybody planned at a site on a day, by name."""
    return [Planned(*row) for row in PLANNED(site=site, on=on)]


def visits_on(site: int, on: date) -> dict[tuple[int, int], Seen]:
    """The visits of a site's day, by course and class."""
    return {(row[0], row[1]): Seen(*row) for row in VISITS(site=site, on=on)}


def meetings_on(site: int, on: date) -> dict[int, Meeting]:
    """The classes of a day that somebody opened or came to, by class."""
    return {row[0]: Meeting(*row) for row in MEETINGS(site=site, on=on)}


def changes_on(site: int, on: date) -> dict[int, Change]:
    """The classes that are different on a day."""
    return {row[0]: Change(*row) for row in CHANGES(site=site, on=on)}


def ecg_until_of(site: int) -> dict[str, int]:
    """Up to which session ECG is suggested, by class of risk; a site may set it."""
    usual = {str(risk): SUPERVISION[risk].ecg[1] for risk in RiskClass}
    return usual | dict(OWN_SUPERVISION(site=site))


def due_of(planned: Iterable[Planned], slot: int, on: date) -> dict[int, Due | None]:
    """What each course of a class asks for next, by course."""
    pauses: dict[int, list[Pausing]] = defaultdict(list)
    for course, from_on, until_on in PAUSES(slot=slot, on=on):
        pauses[course].append(Pausing(from_on, until_on))
    records: dict[int, list[Record]] = defaultdict(list)
    for course, *values in ASSESSMENTS(slot=slot, on=on):
        records[course].append(Record(*values))
    found = {}
    for p in planned:
        course = Course(
            p.starts_on,
            p.weeks,
            tuple(pauses[p.enrolment_id]),
            rhythm_of(p.rhythm or []),
            p.closed_on,
            seeks_exit=p.outcome != Enrolment.Outcome.DIED,
        )
        found[p.enrolment_id] = due_next(course, tuple(records[p.enrolment_id]), on)
    return found


def flags_of(slot: int, on: date) -> dict[int, list[str]]:
    """Short words about each person of a class that matter on the floor."""
    flags: dict[int, list[str]] = defaultdict(list)
    for patient, drug_class in MEDICINES(slot=slot, on=on):
        if FLAGGED[drug_class] not in flags[patient]:
            flags[patient].append(FLAGGED[drug_class])
    for (patient,) in FAILING(slot=slot, on=on):
        flags[patient].append("heart failure")
    for patient, kind, rate in DEVICES(slot=slot, on=on):
        flags[patient].append(str(Device(kind=kind, detection_bpm=rate)))
    for patient, kind, instruction in PRECAUTIONS(slot=slot, on=on):
        flags[patient].append(str(Precaution(kind=kind, instruction=instruction)))
    return flags
