"""The next version of a treatment plan, and the plans that wait for a signature."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from django.db.models import Count, Max, Q, QuerySet

from assessments.queries_schedule import OpenCourse, has_baseline, open_courses
from patients.calc.days import in_words
from patients.prepared import Prepared
from programs.attendance.models import ClassMeeting, Visit
from programs.enrolment.models import Enrolment
from programs.prescription.calc.signature import is_late, next_signature_due
from programs.prescription.models import Prescription, TreatmentPlan
from programs.review.calc.components import Parts
from programs.review.forms import TreatmentPlanForm
from programs.staff.models import Site, User


def draft_of(enrolment: Enrolment) -> TreatmentPlan:
    """The draft that waits, or a new one that starts from the last signed version."""
    waiting = enrolment.plans.filter(signed_on=None).first()
    if waiting is not None:
        return waiting
    last = enrolment.plans.exclude(signed_on=None).order_by("-signed_on", "-pk").first()
    new = TreatmentPlan(enrolment=enrolment)
    if last is not None:
        for name in TreatmentPlanForm.Meta.fields:
            setattr(new, name, getattr(last, name))
        return new
    dose = enrolment.prescriptions.in_force().first()
    if dose is not None:
        parts = [dose.heart_rate_words, dose.rpe_words, f"{dose.minutes} min"]
        amount = ", ".join(part for part in parts if part)
        new.exercise = f"Aerobic exercise {dose.per_week} times a week: {amount}."
    return new


def parts_of(draft: TreatmentPlan, dose: Prescription | None) -> Parts:
    """What a draft holds."""
    enrolment = draft.enrolment
    return Parts(
        has_prescription=dose is not None,
        risk_factors=draft.risk_factors,
        psychosocial=draft.psychosocial,
        has_baseline=has_baseline(enrolment),
        diagnosis=str(enrolment.referral.condition),
        exercise=draft.exercise,
        goals=draft.goals,
    )


NOW_DAYS = 2  # further ahead is folded away


class Unsigned(NamedTuple):
    """One course whose plan must be signed by a day, by keys alone."""

    enrolment: int
    due_on: date
    days: int  # negative when overdue
    has_draft: bool
    clinician: int | None

    @property
    def key(self) -> str:
        return str(self.enrolment)

    @property
    def order(self) -> tuple[date, int]:
        """The longest overdue first."""
        return self.due_on, self.enrolment


def _signatures(keys: Any) -> QuerySet[Any, Any]:
    """Of each course the last signature, and how many versions wait for one."""
    plans = TreatmentPlan.objects.filter(enrolment__pk__listed=keys).order_by()
    waiting = Count("pk", filter=Q(signed_on=None))
    return plans.values_list("enrolment").annotate(Max("signed_on"), n_waiting=waiting)


_SIGNATURES = Prepared(_signatures, keys=list)


def unsigned_at(
    sites: Iterable[Site], ahead_days: int, going: Sequence[OpenCourse] | None = None
) -> list[Unsigned]:
    """Open courses whose plan must be signed within some days: two queries of bare values.

    ``going`` are these courses, where somebody has read them already.
    """
    sites = list(sites)
    days = {site.pk: site.today() for site in sites}
    courses = open_courses(sites) if going is None else going
    keys = [course.pk for course in courses]
    plans = {pk: (signed_on, n_waiting) for pk, signed_on, n_waiting in _SIGNATURES(keys=keys)}
    found = []
    for pk, site, starts_on, _, _, _, clinician in courses:
        signed_on, n_waiting = plans.get(pk, (None, 0))
        due_on = next_signature_due(signed_on, starts_on)
        n = (due_on - days[site]).days
        if n <= ahead_days:
            found.append(Unsigned(pk, due_on, n, n_waiting > 0, clinician))
    return sorted(found, key=lambda one: one.order)


@dataclass(frozen=True)
class SignatureLine:
    """One course whose plan must be signed by a day."""

    enrolment: Enrolment
    due_on: date
    days: int  # negative when overdue
    has_draft: bool = False

    @property
    def is_now(self) -> bool:
        return self.days <= NOW_DAYS

    @property
    def what(self) -> str:
        return "signature overdue" if self.days < 0 else "signature due"


def lines_of_plans(
    unsigned: Sequence[Unsigned], of: Mapping[int, Enrolment]
) -> list[SignatureLine]:
    """What must be signed, with the courses a page names."""
    return [
        SignatureLine(of[one.enrolment], one.due_on, one.days, one.has_draft) for one in unsigned
    ]


@dataclass(frozen=True)
class Uncovered:
    """A counted session on a day that no signature covered."""

    visit: Visit
    last_signed_on: date | None  # on or before the session's day

    @property
    def why(self) -> str:
        """Which signature was missing, in words."""
        if self.last_signed_on is None:
            return "no signed plan yet"
        until = next_signature_due(self.last_signed_on, self.visit.on)
        return f"signed {in_words(self.last_signed_on)}, valid until {in_words(until)}"


def without_plan(user: User, since: date, until: date) -> dict[int, date | None]:
    """Counted sessions at the user's sites that no plan in force covered: four queries.

    A plan covers the days from its signature until the next is due (``calc/signature.py``). Each
    query names the rows of the next one by one: as one query it reads every visit there ever was.

    Returns
    -------
    Keys of the visits, each with the last signature on or before its day.
    """
    held = ClassMeeting.objects.filter(on__range=(since, until)).order_by()
    visits = Visit.objects.counted().filter(meeting__in=list(held.values_list("pk", flat=True)))
    counted = list(visits.order_by().values_list("pk", "enrolment", "on"))
    courses = Enrolment.objects.visible_to(user).filter(pk__in={course for _, course, _ in counted})
    mine = set(courses.order_by().values_list("pk", flat=True))
    given = [row for row in counted if row[1] in mine]
    plans = TreatmentPlan.objects.filter(enrolment__in=mine)
    signed: dict[int, list[Any]] = defaultdict(list)
    for course, on in (
        plans.exclude(signed_on=None).order_by("signed_on").values_list("enrolment", "signed_on")
    ):
        signed[course].append(on)
    found: dict[int, date | None] = {}
    for pk, course, on in given:
        before = bisect_right(signed[course], on)
        last = signed[course][before - 1] if before else None
        if last is None or is_late(next_signature_due(last, on), on):
            found[pk] = last
    return found
