"""Due: what needs somebody, worst first."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from typing import Any

from django.db.models import QuerySet

from assessments.models import Concern
from assessments.queries_schedule import Waiting, waiting_at
from patients.models import Precaution
from patients.prepared import Prepared
from programs.attendance.calc.levels import Level
from programs.attendance.missed.due import Short, ToCall, calls_at, short_at
from programs.attendance.models import Finding, Interruption, SafetyEvent
from programs.enrolment.referrals.queries import OnClock, on_clock
from programs.review.queries import NOW_DAYS, Unsigned, unsigned_at
from programs.staff.models import Credential, User

AHEAD_DAYS = 7
CARD_AHEAD_DAYS = 60  # common practice, no source
MOST_COUNTED = 99  # beside Due


@dataclass(frozen=True)
class Share:
    """How much of the work on courses is in one pair of hands, for choosing whose to see."""

    key: str  # "all", "none" or the number of a user
    name: str
    n: int
    is_shown: bool


@dataclass
class Due:
    """What waits at the user's sites. Plans, assessments and referrals by key: a page shows few."""

    concerns: list[Concern]
    findings: list[Finding]
    unwritten: list[Interruption]
    events: list[SafetyEvent]
    plans: list[Unsigned]
    assessments: list[Waiting]
    calls: list[ToCall]
    short: list[Short]
    precautions: list[Precaution]
    referrals: list[OnClock]
    credentials: list[Credential]
    shares: list[Share]
    people: dict[int, User]  # with whom plans and assessments are
    n_elsewhere: int = 0  # plans, assessments and bookings of others, left out by whose is chosen

    @property
    def total(self) -> int:
        now = sum(one.days <= NOW_DAYS for one in self.plans)
        now += sum(one.days <= NOW_DAYS for one in self.assessments)
        rest = len(self.concerns) + len(self.findings) + len(self.precautions)
        rest += len(self.unwritten) + len(self.events) + len(self.calls)
        rest += sum(one.is_now for one in self.short)
        return now + rest + len(self.referrals) + len(self.credentials)


def due_for(user: User, whose: str = "all") -> Due:
    """Everything due at the user's sites that the role may see. Constant in the number of rows.

    ``whose`` narrows plans, assessments and bookings to one clinician: a user's number, "none" for
    courses nobody looks after, else everybody's. What must not wait is never narrowed.
    """
    clinical = user.has_perm("patients.view_patient")
    plans = unsigned_at(user.my_sites(), AHEAD_DAYS) if clinical else []
    assessments = waiting_at(user.my_sites(), AHEAD_DAYS) if clinical else []
    short = short_at(user.my_sites()) if user.has_perm("enrolment.change_enrolment") else []
    hands = [one.clinician for one in plans] + [one.clinician for one in assessments]
    hands += [one.clinician for one in short]
    people = _people(hands, user)
    shares = _shares(hands, people, user, whose)
    whose = next((share.key for share in shares if share.is_shown), "all")
    mine = {n: _is_of(n, whose) for n in set(hands)}
    return Due(
        concerns=_concerns(user) if clinical else [],
        findings=_findings(user) if clinical else [],
        unwritten=_unwritten(user) if clinical else [],
        events=_events(user) if user.has_perm("attendance.review_event") else [],
        plans=[one for one in plans if mine[one.clinician]],
        assessments=[one for one in assessments if mine[one.clinician]],
        calls=calls_at(user.my_sites()) if clinical else [],
        short=[one for one in short if mine[one.clinician]],
        precautions=_precautions(user) if clinical else [],
        referrals=on_clock(user) if user.has_perm("enrolment.view_referral") else [],
        credentials=_credentials(user),
        shares=shares,
        people=people,
        n_elsewhere=sum(not mine[n] for n in hands),
    )


def _is_of(clinician: int | None, whose: str) -> bool:
    if whose == "none":
        return clinician is None
    return not whose.isdecimal() or str(clinician) == whose


def _people(hands: Sequence[int | None], user: User) -> dict[int, User]:
    """Who has work in hand, and the reader."""
    found = {n for n in hands if n is not None} - {user.pk}
    return {user.pk: user} | (User.objects.in_bulk(found) if found else {})


def _shares(
    hands: Sequence[int | None], people: Mapping[int, User], user: User, whose: str
) -> list[Share]:
    """Everybody's first, mine next, nobody's last; empty where there is nothing to choose."""
    found = Counter(n for n in hands if n is not None)
    if not found:
        return []
    if user.has_perm("enrolment.change_enrolment"):
        found.setdefault(user.pk, 0)
    names = {pk: str(people[pk]) for pk in found}
    nobodys = len(hands) - sum(found.values())
    known = {"none", *map(str, found)}
    shares = [Share("all", "Everybody", len(hands), whose not in known)]
    for pk in sorted(found, key=lambda pk: (pk != user.pk, names[pk])):
        name = "Mine" if pk == user.pk else names[pk]
        shares.append(Share(str(pk), name, found[pk], whose == str(pk)))
    if nobodys:
        shares.append(Share("none", "Unassigned", nobodys, whose == "none"))
    return shares


@dataclass(frozen=True)
class _AtSites:
    """Somebody at these sites, while a query is compiled."""

    sites: list[int]

    def site_ids(self) -> list[int]:
        return self.sites


@cache
def _must_not_wait(n_sites: int, *, with_events: bool) -> Prepared:
    def build(**sites: int) -> QuerySet[Any, Any]:
        at: Any = _AtSites(list(sites.values()))
        waiting = [_open_concerns(at), _unanswered(at), _to_write_up(at)]
        waiting += [_to_review(at)] if with_events else []
        first, *others = [rows.order_by().values_list("pk") for rows in waiting]
        return first.union(*others, all=True)[: MOST_COUNTED + 1]

    return Prepared(build, **{f"site_{n}": int for n in range(n_sites)})


def n_waiting(user: User) -> int:
    """How many rows of Due must not wait: holds and stops, concerns, events to review.

    One query along the partial indexes of what waits, for whom it concerns, else none; beyond
    ``MOST_COUNTED`` nobody counts on. Assessments, plans and referrals are worked out from whole
    courses and stand on Due alone. Every page asks, so that the query is compiled once.
    """
    sites = user.site_ids()
    if not sites or not user.has_perm("patients.view_patient"):
        return 0
    ask = _must_not_wait(len(sites), with_events=user.has_perm("attendance.review_event"))
    return len(ask(**{f"site_{n}": site for n, site in enumerate(sites)}))


def _open_concerns(user: User) -> QuerySet[Any, Any]:
    return Concern.objects.visible_to(user).filter(closed_at=None)


def _concerns(user: User) -> list[Concern]:
    mine = _open_concerns(user)
    return list(mine.select_related("assessment__enrolment__patient__site", "owner"))


def _unanswered(user: User) -> QuerySet[Any, Any]:
    """Holds and stops that nobody has answered."""
    unanswered = Finding.objects.filter(answered_at=None, cleared_at=None, level__gte=Level.HOLD)
    return unanswered.visible_to(user)


def _findings(user: User) -> list[Finding]:
    mine = _unanswered(user).select_related("visit__enrolment__patient__site")
    return list(mine.order_by("-visit__on", "-level")[:100])


def _to_write_up(user: User) -> QuerySet[Any, Any]:
    """Holds and stops that wait for their record: what was done, when the person may return."""
    return Interruption.objects.visible_to(user).filter(
        written_at=None, is_taken_back=False, settled_at=None
    )


def _unwritten(user: User) -> list[Interruption]:
    mine = _to_write_up(user).select_related("visit__enrolment__patient__site", "by")
    return list(mine.order_by("at")[:100])


def _to_review(user: User) -> QuerySet[Any, Any]:
    """Events no clinician has reviewed."""
    return SafetyEvent.objects.visible_to(user).filter(reviewed_at=None, is_withdrawn=False)


def _events(user: User) -> list[SafetyEvent]:
    mine = _to_review(user).select_related("patient", "site")
    return list(mine.order_by("happened_at")[:100])


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
