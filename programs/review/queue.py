"""The plans that wait for who signs them: whose, why, and in which order."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from enum import Enum
from typing import NamedTuple

from django.utils import timezone

from assessments.queries_schedule import open_courses
from patients.calc.days import short_weekday
from patients.models import AuditEvent
from programs.enrolment.models import Enrolment
from programs.prescription.models import Prescription, TreatmentPlan
from programs.review.calc.differences import changed_blocks
from programs.review.document import compared, rows_of_plan
from programs.review.doses import unsigned_doses
from programs.review.queries import Unsigned, unsigned_at
from programs.staff.models import Site, User

AHEAD_DAYS = 7  # as on Due (project choice)
OPENED_HOURS = 12  # what was opened longer ago is opened again before many are signed at once


class Group(Enum):
    """Why a plan is in the queue, in the order of the queue."""

    OVERDUE = "Overdue"
    DOSE = "Changed dose"
    DUE = f"Due within {AHEAD_DAYS} days"
    READY = "Draft ready early"
    BACK = "Sent back"
    PAUSED = "Paused"


ORDER = list(Group)


class Waiting(NamedTuple):
    """One plan of the queue, by keys alone."""

    unsigned: Unsigned
    group: Group
    has_changed_dose: bool

    @property
    def key(self) -> str:
        return self.unsigned.key


def waiting_at(sites: Iterable[Site]) -> list[Waiting]:
    """The whole queue of these sites, first what has waited longest: six queries, bare values."""
    sites = list(sites)
    going = open_courses(sites)
    changed = {dose.enrolment for dose in unsigned_doses(course.pk for course in going)}
    found = []
    for one in unsigned_at(sites, None, going):
        group = _group_of(one, one.enrolment in changed)
        if group is not None:
            found.append(Waiting(one, group, one.enrolment in changed))
    return sorted(found, key=lambda w: (ORDER.index(w.group), w.unsigned.order))


def _group_of(one: Unsigned, has_changed_dose: bool) -> Group | None:
    """A draft that was sent back waits for its team, whatever its day; else the worst first."""
    if one.is_sent_back:
        return Group.BACK
    if one.is_paused:
        return Group.PAUSED
    if one.days < 0:
        return Group.OVERDUE
    if has_changed_dose:
        return Group.DOSE
    if one.days <= AHEAD_DAYS:
        return Group.DUE
    return Group.READY if one.has_draft else None


@dataclass(frozen=True)
class Line:
    """One plan of the queue as the page tells it."""

    waiting: Waiting
    enrolment: Enrolment
    draft: TreatmentPlan | None
    before: TreatmentPlan | None  # the version signed last
    dose: Prescription | None  # in force
    signed_dose: Prescription | None  # the one signed last
    n_changes: int | None  # None without an earlier version
    is_opened: bool

    @property
    def when(self) -> str:
        one = self.waiting.unsigned
        if one.days < 0:
            return f"{-one.days} day{'s' if one.days < -1 else ''} over"
        return short_weekday(one.due_on, self.enrolment.patient.site.today())

    @property
    def what(self) -> str:
        """What is new in it, in a few words."""
        if self.draft is None:
            words = "no draft yet"
        elif self.draft.sent_back_at:
            words = self.draft.get_sent_back_because_display()
        elif self.n_changes is None:
            words = "first plan"
        else:
            plural = "s" if self.n_changes != 1 else ""
            words = f"{self.n_changes} change{plural}" if self.n_changes else "no change"
        return f"{words}, dose changed" if self.waiting.has_changed_dose else words


def told_opened(plan: TreatmentPlan, dose: int) -> str:
    """How the access log says that this very version, with this dose, was opened to be signed."""
    return f"treatment plan {plan.pk}, draft {plan.version}, dose {dose}, to sign"


def opened_by(user: User, plans: Iterable[tuple[TreatmentPlan, int]]) -> set[int]:
    """Which drafts somebody opened as they and their doses stand now: one query of the access log.

    A dose is told by its key, 0 where there is none.
    """
    told = {told_opened(plan, dose): plan.pk for plan, dose in plans if plan.pk}
    if not told:
        return set()
    since = timezone.now() - timedelta(hours=OPENED_HOURS)
    looks = AuditEvent.objects.filter(
        kind=AuditEvent.Kind.LOOK, user=user, at__gte=since, what__in=list(told)
    )
    return {told[what] for what in looks.order_by().values_list("what", flat=True).distinct()}


def lines_of(waiting: Sequence[Waiting], user: User) -> list[Line]:
    """Lines of the queue with what changed in each: five queries."""
    keys = [one.unsigned.enrolment for one in waiting]
    courses = Enrolment.objects.filter(pk__in=keys)
    of = {
        course.pk: course
        for course in courses.select_related("patient__site", "referral__condition")
    }
    drafts, last = _plans_of(keys, of)
    dose, signed_dose = _doses_of(keys)
    opened = opened_by(user, [(draft, key_of(dose.get(key))) for key, draft in drafts.items()])
    found = []
    for one in waiting:
        key = one.unsigned.enrolment
        draft, before = drafts.get(key), last.get(key)
        doses = dose.get(key), signed_dose.get(key)
        n = None
        if draft is not None and before is not None:
            old, new = rows_of_plan(before, doses[1]), rows_of_plan(draft, doses[0])
            n = len(changed_blocks(compared(old, new)))
        is_opened = draft is not None and draft.pk in opened
        found.append(Line(one, of[key], draft, before, *doses, n, is_opened))
    return found


def key_of(dose: Prescription | None) -> int:
    """How a form and the access log name the dose of a plan."""
    return dose.pk if dose else 0


def _plans_of(
    keys: Sequence[int], of: Mapping[int, Enrolment]
) -> tuple[dict[int, TreatmentPlan], dict[int, TreatmentPlan]]:
    """Of each course the draft, and the version signed last."""
    plans = TreatmentPlan.objects.filter(enrolment__in=keys)
    plans = plans.select_related("prepared_by", "signed_by", "sent_back_by")
    drafts: dict[int, TreatmentPlan] = {}
    last: dict[int, TreatmentPlan] = {}
    for plan in plans.order_by("signed_on", "pk"):
        plan.enrolment = of[plan.enrolment_id]
        (drafts if plan.signed_on is None else last)[plan.enrolment_id] = plan
    return drafts, last


def _doses_of(keys: Sequence[int]) -> tuple[dict[int, Prescription], dict[int, Prescription]]:
    """Of each course the dose that is to be signed or in force, and the one signed last."""
    rows = Prescription.objects.filter(enrolment__in=keys)
    to_sign: dict[int, Prescription] = {}
    for row in rows.to_sign():
        to_sign.setdefault(row.enrolment_id, row)
    signed = rows.filter(signed_at__isnull=False).order_by("signed_at", "pk")
    return to_sign, {row.enrolment_id: row for row in signed}
