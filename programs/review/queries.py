"""The next version of a treatment plan, and the plans that wait for a signature."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Exists, Max, OuterRef, Subquery

from assessments.queries_schedule import at_work, has_baseline
from patients.calc.days import in_words
from programs.attendance.models import Visit
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


def sessions_without_plan(user: User, since: date, until: date) -> list[Uncovered]:
    """Counted sessions at the user's sites that no plan in force covered, the latest first.

    A plan covers the days from its signature until the next is due (``calc/signature.py``).
    """
    signed = (
        TreatmentPlan.objects.filter(enrolment=OuterRef("enrolment"), signed_on__lte=OuterRef("on"))
        .order_by("-signed_on")
        .values("signed_on")[:1]
    )
    visits = (
        Visit.objects.visible_to(user)
        .counted()
        .filter(on__range=(since, until))
        .annotate(last_signed_on=Subquery(signed))
        .select_related("enrolment__patient", "meeting__slot")
        .order_by("-on", "-pk")
    )
    return [
        Uncovered(visit, visit.last_signed_on)
        for visit in visits
        if visit.last_signed_on is None
        or is_late(next_signature_due(visit.last_signed_on, visit.on), visit.on)
    ]
