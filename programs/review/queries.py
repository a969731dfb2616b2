"""The next version of a treatment plan, and the plans that wait for a signature."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Exists, Max, OuterRef

from assessments.queries_schedule import at_work, has_baseline
from patients.calc.days import in_words
from programs.attendance.models import ClassMeeting, Visit
from programs.enrolment.models import Enrolment
from programs.prescription.calc.signature import is_late, next_signature_due
from programs.prescription.models import Prescription, TreatmentPlan
from programs.review.calc.components import Parts
from programs.review.forms import TreatmentPlanForm
from programs.staff.models import User


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


@dataclass
class SignatureLine:
    """One course whose plan must be signed by a day."""

    enrolment: Enrolment
    what: str
    due_on: date
    days: int  # negative when overdue
    has_draft: bool = False

    @property
    def is_now(self) -> bool:
        return self.days <= NOW_DAYS

    @property
    def clinician(self) -> User | None:
        return at_work(self.enrolment.clinician)


def with_signatures(enrolments: Any) -> Any:
    """Courses with the day of their last signature, and whether a draft waits."""
    drafts = TreatmentPlan.objects.filter(enrolment=OuterRef("pk"), signed_on=None)
    return enrolments.annotate(last_signed_on=Max("plans__signed_on"), has_draft=Exists(drafts))


def signatures_due(enrolments: Iterable[Any], ahead_days: int) -> list[SignatureLine]:
    """Open courses, ``with_signatures``, whose plan must be signed within some days."""
    lines = []
    for enrolment in enrolments:
        today = enrolment.patient.site.today()
        due_on = next_signature_due(enrolment.last_signed_on, enrolment.starts_on)
        if (due_on - today).days <= ahead_days:
            what = "signature overdue" if is_late(due_on, today) else "signature due"
            days = (due_on - today).days
            lines.append(SignatureLine(enrolment, what, due_on, days, enrolment.has_draft))
    return sorted(lines, key=lambda line: line.due_on)


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
    """Counted sessions at the user's sites that no plan in force covered: two queries.

    A plan covers the days from its signature until the next is due (``calc/signature.py``).

    Returns
    -------
    Keys of the visits, each with the last signature on or before its day.
    """
    held = ClassMeeting.objects.filter(on__range=(since, until)).order_by().values("pk")
    visits = Visit.objects.visible_to(user).counted().filter(meeting__in=held).order_by()
    given = list(visits.values_list("pk", "enrolment", "on"))
    plans = TreatmentPlan.objects.filter(enrolment__in={course for _, course, _ in given})
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
