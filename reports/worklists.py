"""Due: what needs somebody, worst first."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from assessments.models import Concern
from assessments.queries_schedule import DueAssessment, due_assessments, watched
from patients.models import Precaution
from programs.attendance.calc.levels import Level
from programs.attendance.models import Finding, Interruption, SafetyEvent
from programs.enrolment.referrals.queries import ReferralLine, waiting_lines
from programs.review.queries import NOW_DAYS, SignatureLine, signatures_due, with_signatures
from programs.staff.models import Credential, User

AHEAD_DAYS = 7
CARD_AHEAD_DAYS = 60  # common practice, no source


@dataclass(frozen=True)
class Share:
    """How much of the work on courses is in one pair of hands, for choosing whose to see."""

    key: str  # "all", "none" or the number of a user
    name: str
    n: int
    is_shown: bool


@dataclass
class Due:
    concerns: list[Concern]
    findings: list[Finding]
    unwritten: list[Interruption]
    events: list[SafetyEvent]
    signatures: list[SignatureLine]
    assessments: list[DueAssessment]
    precautions: list[Precaution]
    referrals: list[ReferralLine]
    credentials: list[Credential]
    shares: list[Share]
    n_elsewhere: int = 0  # plans and assessments of others, left out by the choice of whose

    @property
    def total(self) -> int:
        days = [line.days for line in self.signatures] + [line.days for line in self.assessments]
        rest = len(self.concerns) + len(self.findings) + len(self.precautions)
        rest += len(self.unwritten) + len(self.events)
        return sum(d <= NOW_DAYS for d in days) + rest + len(self.referrals) + len(self.credentials)


def due_for(user: User, whose: str = "all") -> Due:
    """Everything due at the user's sites that the role may see. Constant in the number of rows.

    ``whose`` narrows plans and assessments to one clinician: a user's number, "none" for courses
    nobody looks after, else everybody's. What must not wait is never narrowed.
    """
    clinical = user.has_perm("patients.view_patient")
    enrolments = _courses(user) if clinical else []
    signatures = signatures_due([e for e in enrolments if e.is_open], AHEAD_DAYS)
    assessments = due_assessments(enrolments, AHEAD_DAYS)
    lines: list[SignatureLine | DueAssessment] = [*signatures, *assessments]
    shares = _shares(lines, user, whose)
    whose = next((share.key for share in shares if share.is_shown), "all")
    return Due(
        concerns=_concerns(user) if clinical else [],
        findings=_findings(user) if clinical else [],
        unwritten=_unwritten(user) if clinical else [],
        events=_events(user) if user.has_perm("attendance.review_event") else [],
        signatures=[line for line in signatures if _is_of(line, whose)],
        assessments=[line for line in assessments if _is_of(line, whose)],
        precautions=_precautions(user) if clinical else [],
        referrals=waiting_lines(user) if user.has_perm("enrolment.view_referral") else [],
        credentials=_credentials(user),
        shares=shares,
        n_elsewhere=sum(not _is_of(line, whose) for line in lines),
    )


def _is_of(line: SignatureLine | DueAssessment, whose: str) -> bool:
    if whose == "none":
        return line.clinician is None
    return not whose.isdecimal() or (line.clinician is not None and str(line.clinician.pk) == whose)


def _shares(lines: Sequence[SignatureLine | DueAssessment], user: User, whose: str) -> list[Share]:
    """Everybody's first, mine next, nobody's last; empty where there is nothing to choose."""
    found: dict[int, tuple[str, int]] = {}
    for line in lines:
        person = line.clinician
        if person is not None:
            name, n = found.get(person.pk, (str(person), 0))
            found[person.pk] = (name, n + 1)
    if not found:
        return []
    if user.has_perm("enrolment.change_enrolment"):
        found.setdefault(user.pk, (str(user), 0))
    nobodys = len(lines) - sum(n for _, n in found.values())
    known = {"none", *map(str, found)}
    shares = [Share("all", "Everybody", len(lines), whose not in known)]
    for pk, (name, n) in sorted(found.items(), key=lambda kn: (kn[0] != user.pk, kn[1][0])):
        shares.append(Share(str(pk), "Mine" if pk == user.pk else name, n, whose == str(pk)))
    if nobodys:
        shares.append(Share("none", "Nobody’s", nobodys, whose == "none"))
    return shares


def _concerns(user: User) -> list[Concern]:
    return list(
        Concern.objects.visible_to(user)
        .filter(closed_at=None)
        .select_related("assessment__enrolment__patient__site", "owner")
    )


def _findings(user: User) -> list[Finding]:
    """Holds and stops that nobody has answered."""
    return list(
        Finding.objects.visible_to(user)
        .filter(decision="", cleared_at=None, level__gte=Level.HOLD)
        .select_related("visit__enrolment__patient__site")
        .order_by("-visit__on", "-level")[:100]
    )


def _unwritten(user: User) -> list[Interruption]:
    """Holds and stops that wait for their record: what was done, when the person may return."""
    mine = Interruption.objects.visible_to(user).filter(
        written_at=None, is_taken_back=False, settled_at=None
    )
    return list(mine.select_related("visit__enrolment__patient__site", "by").order_by("at")[:100])


def _events(user: User) -> list[SafetyEvent]:
    """Events no clinician has reviewed."""
    mine = SafetyEvent.objects.visible_to(user).filter(reviewed_at=None, is_withdrawn=False)
    return list(mine.select_related("patient", "site").order_by("happened_at")[:100])


def _precautions(user: User) -> list[Precaution]:
    """Precautions of people in a course whose review day has come; they stay in force."""
    day = max((site.today() for site in user.my_sites()), default=date.today())
    return list(
        Precaution.objects.visible_to(user)
        .filter(
            lifted_on=None,
            review_on__lte=day,
            patient__enrolments__closed_on=None,
            patient__enrolments__isnull=False,
        )
        .distinct()
        .select_related("patient__site")
        .order_by("review_on")[:100]
    )


def _courses(user: User) -> list[Any]:
    """Open courses and those ended lately, with their last signature."""
    day = min((site.today() for site in user.my_sites()), default=date.today())
    return list(with_signatures(watched(user.site_ids(), day)))


def _credentials(user: User) -> list[Credential]:
    soon = date.today() + timedelta(days=CARD_AHEAD_DAYS)
    for site in user.my_sites()[:1]:
        soon = site.today() + timedelta(days=CARD_AHEAD_DAYS)
    return list(
        Credential.objects.visible_to(user)
        .filter(user__is_active=True, expires_on__lte=soon)
        .select_related("user")
        .distinct()
    )
