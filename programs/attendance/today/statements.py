"""The queries of Today, each compiled once: ``patients.prepared`` says why."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db.models import Max, OuterRef, Q, QuerySet, Subquery

from assessments.calc.schedule import Record
from assessments.models import Assessment, Concern, Measurement
from patients.models import BodyWeight, Precaution
from patients.prepared import Prepared
from programs.attendance.calc.workload import NAMES as WORKLOAD
from programs.attendance.models import (
    Bout,
    ClassMeeting,
    Finding,
    Interruption,
    Reading,
    Visit,
)
from programs.attendance.models.visit import n_sessions_where
from programs.enrolment.models import (
    ClassChange,
    ClassSlot,
    EntryScreen,
    Pause,
    PlannedSession,
    RiskStratification,
    SupervisionPolicy,
)
from programs.enrolment.risk.queries import background
from programs.prescription.calc.from_results import CAPACITIES
from programs.prescription.models import Prescription, TreatmentPlan

Among = Sequence[int] | None  # courses; None for everybody


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
            "makes_up_on",
        )
    )  # fmt: skip


def _held(site: int, on: date) -> QuerySet[Any, Any]:
    """The classes of a site's day that somebody opened or came to; visits hang on them."""
    return ClassMeeting.objects.filter(slot__site=site, on=on).order_by().values("pk")


def _visits(site: int, on: date) -> QuerySet[Any, Any]:
    return (
        Visit.objects.filter(meeting__in=_held(site, on))
        .order_by()
        .values_list(
            "enrolment", "meeting__slot", "pk", "state", "absence", "arrived_at", "minutes",
            "counts_first", "counts_second", "left_early", "version", "started_at", "ended_at",
            "answers", "has_ecg",
        )
    )  # fmt: skip


def _meetings(site: int, on: date) -> QuerySet[Any, Any]:
    who = ["closed_by__first_name", "closed_by__last_name", "closed_by__username"]
    found = ClassMeeting.objects.filter(slot__site=site, on=on).order_by()
    return found.values_list("slot", "opened_at", "closed_at", "exception", "unmet", *who)


def _changes(site: int, on: date) -> QuerySet[Any, Any]:
    found = ClassChange.objects.filter(slot__site=site, on=on).order_by()
    return found.values_list("slot", "is_cancelled", "starts_at", "reason", "seats")


def _make_ups(slot: int, on: date) -> QuerySet[Any, Any]:
    """What is booked in place of sessions missed in this class on this day."""
    found = PlannedSession.objects.filter(makes_up_slot=slot, makes_up_on=on).order_by()
    return found.values_list("enrolment", "on")


def _classes(site: int, weekdays: Any, slots: Any) -> QuerySet[Any, Any]:
    """The classes of a weekday, and others that somebody is planned in."""
    held = Q(weekday__listed=weekdays) | Q(pk__listed=slots)
    return ClassSlot.objects.filter(held, site=site)


def _supervision(site: int) -> QuerySet[Any, Any]:
    found = SupervisionPolicy.objects.filter(site=site).order_by()
    return found.values_list("risk_class", "ecg_high")


# ``IN`` and not ``EXISTS``: SQLite reads the whole outer table for the latter, ten years of it.


def _planned_here(slot: int, on: date, among: Among) -> QuerySet[Any, Any]:
    here = PlannedSession.objects.filter(slot=slot, on=on).order_by()
    return here if among is None else here.filter(enrolment__pk__listed=among)


def _people_here(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    """The people planned in this class on this day."""
    return _planned_here(slot, on, among).values("enrolment__patient")


def _courses_here(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    return _planned_here(slot, on, among).values("enrolment")


def _visits_here(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    here = Visit.objects.filter(meeting__slot=slot, meeting__on=on).order_by()
    return (here if among is None else here.filter(enrolment__pk__listed=among)).values("pk")


def _readings(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    """What was read before exercise and in recovery, in order."""
    found = Reading.objects.filter(
        visit__in=_visits_here(slot, on, among),
        phase__in=[Reading.Phase.BEFORE, Reading.Phase.RECOVERY],
    )
    return found.order_by("visit", "taken_at", "pk").values_list(
        "visit", "phase", "heart_rate_bpm", "systolic_mmhg", "diastolic_mmhg", "spo2_percent",
        "weight_kg", "glucose_mgdl", "glucose_is_mmoll",
    )  # fmt: skip


def _bouts(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    found = Bout.objects.filter(visit__in=_visits_here(slot, on, among), is_withdrawn=False)
    return found.order_by("visit", "place").values_list(
        "visit", "place", "activity", "began_at", "minutes", *WORKLOAD,
        "heart_rate_bpm", "systolic_mmhg", "diastolic_mmhg", "spo2_percent", "rpe", "angina",
    )  # fmt: skip


def _last_here(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    """The visit each person of the class exercised at last, as it was entered."""
    exercised = Visit.objects.filter(
        enrolment__in=_courses_here(slot, on, among), on__lt=on, state__in=Visit.EXERCISED
    )
    return exercised.order_by().values("enrolment").annotate(last=Max("pk")).values("last")


def _last(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    """Whether the monitor was on last time, and the rhythm then."""
    found = Visit.objects.filter(pk__in=_last_here(slot, on, among)).order_by()
    return found.values_list("enrolment", "has_ecg", "rhythm__before")


def _last_bouts(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    found = Bout.objects.filter(visit__in=_last_here(slot, on, among), is_withdrawn=False)
    return found.order_by("visit", "-place").values_list(
        "visit__enrolment", "visit__on", "activity", *WORKLOAD
    )


def _findings(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    unanswered = Finding.objects.filter(answered_at=None, cleared_at=None)
    here = unanswered.filter(visit__in=_visits_here(slot, on, among))
    return here.order_by("-level", "rule_id", "pk").values_list(
        "visit", "rule_id", "about", "level", "sentence", "source", "is_emergency"
    )


# What to train at, as far as a line shows it.
TARGET = (
    "low_bpm", "high_bpm", "rpe_low", "rpe_high", "signed_at", "covered_by", "at", "valid_from",
    "treadmill_kmh", "treadmill_grade_percent", "cycle_w", "minutes", "loads",
)  # fmt: skip


def _doses(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    """The dose in force on the day and one that waits, with what it was written on and the
    person's weight and newest exercise test."""
    weighed = BodyWeight.objects.standing().filter(patient=OuterRef("enrolment__patient"))
    tested = Measurement.objects.standing().filter(
        assessment__enrolment=OuterRef("enrolment"), key__in=CAPACITIES
    )
    here = Prescription.objects.filter(enrolment__in=_courses_here(slot, on, among)).order_by()
    in_force = Q(is_waiting=False, valid_from__lte=on) & (
        Q(replaced_on=None) | Q(replaced_on__gt=on)
    )
    rows = here.filter(in_force | Q(is_waiting=True, replaced_on=None)).annotate(
        kg=Subquery(weighed.newest_first().values("kg")[:1]),
        tested=Subquery(
            tested.order_by("-assessment__performed_on").values("assessment__performed_on")[:1]
        ),
    )
    return rows.values_list("enrolment", "is_waiting", "basis", "kg", "tested", *TARGET)


def _signed(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    plans = TreatmentPlan.objects.filter(enrolment__in=_courses_here(slot, on, among)).order_by()
    return plans.values_list("enrolment").annotate(Max("signed_on"))


def _counted(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    """Counted sessions of each course before this day, and on it."""
    return (
        Visit.objects.counted()
        .filter(enrolment__in=_courses_here(slot, on, among), on__lte=on)
        .order_by()
        .values_list("enrolment")
        .annotate(before=n_sessions_where(Q(on__lt=on)), on_day=n_sessions_where(Q(on=on)))
    )


def _stops(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    """Holds and stops of earlier visits, and of this day's other classes, not settled yet."""
    unsettled = Interruption.objects.filter(settled_at=None, is_taken_back=False)
    earlier = unsettled.filter(
        Q(visit__on__lt=on) | Q(visit__on=on) & ~Q(visit__meeting__slot=slot)
    )
    return (
        earlier.filter(visit__enrolment__patient__in=_people_here(slot, on, among))
        .order_by("at")
        .values_list("visit__enrolment__patient", "kind", "visit__on")
    )


def _background(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    return background(patient__in=_people_here(slot, on, among))


def _concerns(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    found = Concern.objects.filter(closed_at=None)
    here = found.filter(assessment__enrolment__patient__in=_people_here(slot, on, among))
    return here.order_by().values_list("assessment__enrolment__patient").distinct()


def _screens(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    found = EntryScreen.objects.filter(patient__in=_people_here(slot, on, among))
    return found.order_by("at", "pk").values_list("patient", "at", "answers", "decision")


def _precautions(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    found = Precaution.objects.filter(patient__in=_people_here(slot, on, among), lifted_on=None)
    return found.values_list("patient", "kind", "instruction")


def _risks(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    found = RiskStratification.objects.filter(patient__in=_people_here(slot, on, among))
    return found.order_by("at", "pk").values_list("patient", "at", "answers", "decided")


def _pauses(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    found = Pause.objects.filter(enrolment__in=_courses_here(slot, on, among))
    rows = found.order_by("enrolment", "from_on")
    return rows.values_list("enrolment", "from_on", "until_on", "reason")


def _assessments(slot: int, on: date, among: Among = None) -> QuerySet[Any, Any]:
    found = Assessment.objects.filter(enrolment__in=_courses_here(slot, on, among))
    return found.order_by("enrolment", "pk").values_list("enrolment", *Record._fields)


class OfClass:
    """A statement of a class on a day: of everybody in it, or of those among some courses."""

    def __init__(self, build: Any) -> None:
        self.of_all = Prepared(build, slot=int, on=date)
        self.of_some = Prepared(build, slot=int, on=date, among=list)

    def __call__(self, slot: int, on: date, among: Among = None) -> list[Any]:
        if among is None:
            return self.of_all(slot=slot, on=on)
        return self.of_some(slot=slot, on=on, among=among)


PLANNED = Prepared(_planned, site=int, on=date)
PLANNED_IN = Prepared(
    lambda slot, **day: _planned(**day).filter(slot=slot), site=int, on=date, slot=int
)
VISITS = Prepared(_visits, site=int, on=date)
VISITS_IN = Prepared(
    lambda slot, **day: _visits(**day).filter(meeting__slot=slot), site=int, on=date, slot=int
)
MEETINGS = Prepared(_meetings, site=int, on=date)
CLASSES = Prepared(_classes, site=int, weekdays=list, slots=list)
CHANGES = Prepared(_changes, site=int, on=date)
OWN_SUPERVISION = Prepared(_supervision, site=int)
READINGS, FINDINGS, DOSES, SIGNED = map(OfClass, [_readings, _findings, _doses, _signed])
RUN, LAST, LAST_BOUTS = map(OfClass, [_bouts, _last, _last_bouts])
COUNTED, STOPS, RISKS = map(OfClass, [_counted, _stops, _risks])
BACKGROUND, SCREENS = map(OfClass, [_background, _screens])
PRECAUTIONS, CONCERNS = map(OfClass, [_precautions, _concerns])
PAUSES, ASSESSMENTS = map(OfClass, [_pauses, _assessments])
MAKE_UPS = Prepared(_make_ups, slot=int, on=date)
