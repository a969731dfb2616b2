"""The next version of a treatment plan, and the plans that wait for a signature."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, NamedTuple

from django.db.models import Count, Max, Q, QuerySet

from assessments.models import Assessment
from assessments.queries_schedule import OpenCourse, open_courses, performed_kinds
from patients.calc.days import in_words
from patients.prepared import Prepared
from programs.attendance.models import ClassMeeting, Visit
from programs.enrolment.models import Enrolment, Pause
from programs.prescription.calc.signature import Clock, clock_on, is_late, next_signature_due
from programs.prescription.models import Prescription, TreatmentPlan
from programs.review.calc.parts import Facts, stored
from programs.review.document import parts_of
from programs.staff.models import Site, User


def last_signed_of(enrolment: Enrolment) -> TreatmentPlan | None:
    """The version signed last."""
    signed = enrolment.plans.filter(signed_on__isnull=False).select_related("signed_by")
    last: TreatmentPlan | None = signed.order_by("-signed_on", "-pk").first()
    return last


def draft_of(enrolment: Enrolment) -> TreatmentPlan:
    """The draft that waits, or a new one that starts from the last signed version.

    Progress is told anew each time; everything else the team wrote goes on.
    """
    waiting: TreatmentPlan | None = enrolment.plans.filter(signed_on=None).first()
    if waiting is not None:
        return waiting
    return next_draft(enrolment, last_signed_of(enrolment))


def next_draft(enrolment: Enrolment, last: TreatmentPlan | None) -> TreatmentPlan:
    """A new version, unsaved, that starts from the one signed last."""
    new = TreatmentPlan(enrolment=enrolment)
    if last is not None:
        new.goals, new.risk_factors = last.goals, last.risk_factors
        parts = {key: stored(replace(part, progress="")) for key, part in parts_of(last).items()}
        new.content = {"components": parts}
    return new


def facts_of(enrolment: Enrolment, dose: Prescription | None) -> Facts:
    """What stands beside the parts of a plan: one query."""
    performed, today = performed_kinds(enrolment), enrolment.patient.site.today()
    return Facts(
        diagnosis=str(enrolment.referral.condition),
        has_prescription=dose is not None,
        has_baseline=Assessment.Kind.BASELINE in performed,
        has_exit=Assessment.Kind.EXIT in performed,
        is_ending=not enrolment.is_open or enrolment.planned_end_on <= today,
    )


NOW_DAYS = 2  # further ahead is folded away


class Unsigned(NamedTuple):
    """One course whose plan must be signed by a day, by keys alone."""

    enrolment: int
    due_on: date
    days: int  # negative when overdue
    has_draft: bool
    clinician: int | None
    is_sent_back: bool = False
    is_paused: bool = False  # overdue, and nobody comes to a session meanwhile

    @property
    def key(self) -> str:
        return str(self.enrolment)

    @property
    def order(self) -> tuple[bool, date, int]:
        """The longest overdue first, people who are away last."""
        return self.is_paused, self.due_on, self.enrolment


def _signatures(keys: Any) -> QuerySet[Any, Any]:
    """Of each course the last signature, and how many versions wait for one or were sent back."""
    plans = TreatmentPlan.objects.filter(enrolment__pk__listed=keys).order_by()
    waiting = Count("pk", filter=Q(signed_on=None))
    back = Count("pk", filter=Q(signed_on=None, sent_back_at__isnull=False))
    return plans.values_list("enrolment").annotate(Max("signed_on"), n_waiting=waiting, n_back=back)


def _pauses(keys: Any) -> QuerySet[Any, Any]:
    spans = Pause.objects.filter(enrolment__pk__listed=keys).order_by()
    return spans.values_list("enrolment", "from_on", "until_on")


_SIGNATURES, _PAUSES = Prepared(_signatures, keys=list), Prepared(_pauses, keys=list)


def unsigned_at(
    sites: Iterable[Site], ahead_days: int | None, going: Sequence[OpenCourse] | None = None
) -> list[Unsigned]:
    """Open courses whose plan must be signed within some days or was sent back, or all courses.

    Three queries of bare values.
    ``going`` are these courses, where somebody has read them already.
    """
    sites = list(sites)
    days = {site.pk: site.today() for site in sites}
    courses = open_courses(sites) if going is None else going
    keys = [course.pk for course in courses]
    plans = {pk: tuple(rest) for pk, *rest in _SIGNATURES(keys=keys)}
    found = []
    for pk, site, starts_on, _, _, _, clinician in courses:
        signed_on, n_waiting, n_back = plans.get(pk, (None, 0, 0))
        due_on = next_signature_due(signed_on, starts_on)
        n = (due_on - days[site]).days
        if ahead_days is None or n <= ahead_days or n_back:
            found.append(Unsigned(pk, due_on, n, n_waiting > 0, clinician, n_back > 0))
    late = [one.enrolment for one in found if one.days < 0]
    pauses: dict[int, list[tuple[date, date | None]]] = defaultdict(list)
    for pk, from_on, until_on in _PAUSES(keys=late):
        pauses[pk].append((from_on, until_on))
    sites_of = {course.pk: course.site for course in courses}
    told = [
        one._replace(is_paused=clock_on(one.due_on, days[sites_of[one.enrolment]], spans)
                     is Clock.PAUSED)
        if (spans := pauses.get(one.enrolment)) else one
        for one in found
    ]  # fmt: skip
    return sorted(told, key=lambda one: one.order)


@dataclass(frozen=True)
class SignatureLine:
    """One course whose plan must be signed by a day."""

    enrolment: Enrolment
    due_on: date
    days: int  # negative when overdue
    has_draft: bool = False
    is_paused: bool = False
    is_sent_back: bool = False

    @property
    def is_now(self) -> bool:
        return self.days <= NOW_DAYS or self.is_sent_back

    @property
    def what(self) -> str:
        if self.is_sent_back:
            return "draft sent back"
        if self.is_paused:
            return "paused: sign before the return"
        return "signature overdue" if self.days < 0 else "signature due"


def lines_of_plans(
    unsigned: Sequence[Unsigned], of: Mapping[int, Enrolment]
) -> list[SignatureLine]:
    """What must be signed, with the courses a page names."""
    return [
        SignatureLine(
            of[one.enrolment], one.due_on, one.days, one.has_draft, one.is_paused, one.is_sent_back
        )
        for one in unsigned
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
