"""Due: what needs somebody, worst first."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, Max, OuterRef

from assessments.models import Concern
from assessments.services import due_next
from patients.models import Precaution
from programs.attendance.calc.levels import Level
from programs.attendance.models import Finding, Interruption, SafetyEvent
from programs.enrolment.models import Enrolment
from programs.enrolment.queries import ReferralLine, waiting_lines
from programs.prescription.calc.signature import is_late, next_signature_due
from programs.prescription.models import TreatmentPlan
from programs.staff.models import Credential

AHEAD_DAYS = 7
NOW_DAYS = 2  # further ahead is folded away
CARD_AHEAD_DAYS = 60  # common practice, no source


@dataclass
class DueLine:
    """One enrolment with something due on a day."""

    enrolment: Enrolment
    what: str
    due_on: date
    days: int  # negative when overdue
    has_draft: bool = False

    @property
    def is_now(self) -> bool:
        return self.days <= NOW_DAYS


@dataclass
class Due:
    concerns: list[Concern]
    findings: list[Finding]
    unwritten: list[Interruption]
    events: list[SafetyEvent]
    signatures: list[DueLine]
    reviews: list[DueLine]
    precautions: list[Precaution]
    referrals: list[ReferralLine]
    credentials: list[Credential]

    @property
    def total(self) -> int:
        lines = [line for line in self.signatures + self.reviews if line.is_now]
        rest = len(self.concerns) + len(self.findings) + len(self.precautions)
        rest += len(self.unwritten) + len(self.events)
        return len(lines) + rest + len(self.referrals) + len(self.credentials)


def due_for(user: Any) -> Due:
    """Everything due at the user's sites that the role may see. Constant in the number of rows."""
    clinical = user.has_perm("patients.view_patient")
    enrolments = _open_enrolments(user) if clinical else []
    return Due(
        concerns=_concerns(user) if clinical else [],
        findings=_findings(user) if clinical else [],
        unwritten=_unwritten(user) if clinical else [],
        events=_events(user) if user.has_perm("attendance.review_event") else [],
        signatures=_signatures(enrolments),
        reviews=_reviews(enrolments),
        precautions=_precautions(user) if clinical else [],
        referrals=waiting_lines(user) if user.has_perm("enrolment.view_referral") else [],
        credentials=_credentials(user),
    )


def _concerns(user: Any) -> list[Concern]:
    return list(
        Concern.objects.filter(
            closed_at=None, assessment__enrolment__patient__site__in=user.site_ids()
        ).select_related("assessment__enrolment__patient__site", "owner")
    )


def _findings(user: Any) -> list[Finding]:
    """Holds and stops that nobody has answered."""
    return list(
        Finding.objects.filter(
            decision="",
            cleared_at=None,
            level__gte=Level.HOLD,
            visit__enrolment__patient__site__in=user.site_ids(),
        )
        .select_related("visit__enrolment__patient__site")
        .order_by("-visit__on", "-level")[:100]
    )


def _unwritten(user: Any) -> list[Interruption]:
    """Holds and stops that wait for their record: what was done, when the person may return."""
    mine = Interruption.objects.filter(
        written_at=None,
        is_taken_back=False,
        settled_at=None,
        visit__enrolment__patient__site__in=user.site_ids(),
    )
    return list(mine.select_related("visit__enrolment__patient__site", "by").order_by("at")[:100])


def _events(user: Any) -> list[SafetyEvent]:
    """Events no clinician has reviewed."""
    mine = SafetyEvent.objects.filter(
        reviewed_at=None, is_withdrawn=False, site__in=user.site_ids()
    )
    return list(mine.select_related("patient", "site").order_by("happened_at")[:100])


def _precautions(user: Any) -> list[Precaution]:
    """Precautions of people in a course whose review day has come; they stay in force."""
    day = max((site.today() for site in user.my_sites()), default=date.today())
    return list(
        Precaution.objects.filter(
            lifted_on=None,
            review_on__lte=day,
            patient__site__in=user.site_ids(),
            patient__enrolments__closed_on=None,
            patient__enrolments__isnull=False,
        )
        .distinct()
        .select_related("patient__site")
        .order_by("review_on")[:100]
    )


def _open_enrolments(user: Any) -> list[Enrolment]:
    drafts = TreatmentPlan.objects.filter(enrolment=OuterRef("pk"), signed_on=None)
    return list(
        Enrolment.objects.visible_to(user)
        .still_open()
        .select_related("patient__site")
        .prefetch_related("pauses", "assessments")
        .annotate(last_signed_on=Max("plans__signed_on"), has_draft=Exists(drafts))
    )


def _signatures(enrolments: list[Any]) -> list[DueLine]:
    lines = []
    for enrolment in enrolments:
        today = enrolment.patient.site.today()
        due_on = next_signature_due(enrolment.last_signed_on, enrolment.starts_on)
        if (due_on - today).days <= AHEAD_DAYS:
            what = "signature overdue" if is_late(due_on, today) else "signature due"
            lines.append(
                DueLine(enrolment, what, due_on, (due_on - today).days, enrolment.has_draft)
            )
    return sorted(lines, key=lambda line: line.due_on)


def _reviews(enrolments: list[Enrolment]) -> list[DueLine]:
    lines = []
    for enrolment in enrolments:
        today, (what, due_on) = enrolment.patient.site.today(), due_next(enrolment)
        if due_on is not None and (due_on - today).days <= AHEAD_DAYS:
            lines.append(DueLine(enrolment, what, due_on, (due_on - today).days))
    return sorted(lines, key=lambda line: line.due_on)


def _credentials(user: Any) -> list[Credential]:
    soon = date.today() + timedelta(days=CARD_AHEAD_DAYS)
    for site in user.my_sites()[:1]:
        soon = site.today() + timedelta(days=CARD_AHEAD_DAYS)
    return list(
        Credential.objects.filter(
            user__sites__in=user.site_ids(), user__is_active=True, expires_on__lte=soon
        )
        .select_related("user")
        .distinct()
    )
