"""What the overview of a person reads: statements compiled once, whole rows.

Thirty small queries are a page's; building each anew took half of its time.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet

from assessments.models import Assessment
from patients.models import Condition, Device, Medicine, Patient, Precaution
from patients.prepared import Prepared, attach
from programs.attendance.models import Bout, Reading, Visit
from programs.attendance.visit.queries import of_visits
from programs.enrolment.models import Enrolment, Pause, PlannedSession
from programs.prescription.models import Prescription, TreatmentPlan
from programs.prescription.queries import dose_on


def _of_person(rows: Any, **also: Any) -> Prepared:
    return Prepared(lambda patient: rows.filter(patient=patient, **also), patient=int)


def _of_course(rows: Any) -> Prepared:
    return Prepared(lambda enrolment: rows.filter(enrolment=enrolment), enrolment=int)


_BACKGROUND = {
    "conditions": _of_person(Condition.objects),
    "medicines": _of_person(Medicine.objects, stopped_on=None),
    "devices": _of_person(Device.objects, removed_on=None),
    "precautions": _of_person(Precaution.objects, lifted_on=None),
}


def background_of(patient: Patient) -> dict[str, list[Any]]:
    """What stands below the name: four queries."""
    return {name: ask(patient=patient.pk) for name, ask in _BACKGROUND.items()}


def _signatures(enrolment: int) -> QuerySet[Any, Any]:
    plans = TreatmentPlan.objects.filter(enrolment=enrolment, signed_on__isnull=False)
    return plans.values_list("signed_on")


# Of visits, readings and bouts only what the overview tells.
_TOLD = ["on", "state", "absence", "minutes", "counts_first", "counts_second", "enrolment"]
_CLASS = ["meeting", "meeting__slot", "meeting__slot__weekday", "meeting__slot__starts_at"]
_VISITS = _of_course(Visit.objects.select_related("meeting__slot").only(*_TOLD, *_CLASS))
_READINGS = of_visits(Reading.objects.only("visit", "phase", "systolic_mmhg", "diastolic_mmhg"))
_BOUTS = of_visits(Bout.objects.only("visit", "activity", "minutes", "mets", "rpe", "is_withdrawn"))
_SIGNED = Prepared(_signatures, enrolment=int)
_PLANNED = _of_course(PlannedSession.objects.select_related("slot"))
_PAUSES, _ASSESSMENTS = _of_course(Pause.objects), _of_course(Assessment.objects)


@dataclass
class CourseRecord:
    """The rows of a course; its pauses and assessments are held by the course itself."""

    visits: list[Visit]  # with their class, readings and bouts
    planned: list[PlannedSession]
    signed: list[Any]  # days, the latest version's first
    dose: Prescription | None


def record_of(course: Enrolment, on: date) -> CourseRecord:
    """Eight queries, whatever the length of the course."""
    key = course.pk
    visits = _VISITS(enrolment=key)
    keys = [visit.pk for visit in visits]
    attach(visits, "readings", _READINGS(visits=keys), "visit_id", model=Reading)
    attach(visits, "bouts", _BOUTS(visits=keys), "visit_id", model=Bout)
    attach([course], "pauses", _PAUSES(enrolment=key), "enrolment_id", model=Pause)
    attach([course], "assessments", _ASSESSMENTS(enrolment=key), "enrolment_id", model=Assessment)
    return CourseRecord(
        visits,
        _PLANNED(enrolment=key),
        [signed_on for (signed_on,) in _SIGNED(enrolment=key)],
        dose_on(key, on),
    )
