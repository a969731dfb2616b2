"""Due: what needs somebody, worst first."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache, cached_property
from typing import Any

from django.db.models import QuerySet

from assessments.models import Concern
from assessments.queries_schedule import Waiting, open_courses, waiting_at
from patients.models import Precaution
from patients.prepared import AtSites, Prepared, rows_at
from programs.attendance.calc.levels import Level
from programs.attendance.missed.due import Short, ToCall, calls_at, short_at
from programs.attendance.models import Finding, Interruption, SafetyEvent
from programs.enrolment.referrals.queries import OnClock, on_clock
from programs.prescription.signing import signs_anywhere
from programs.review.doses import UnsignedDose, unsigned_doses
from programs.review.queries import NOW_DAYS, Unsigned, unsigned_at
from programs.staff.models import Credential, User
from programs.staff.queries import people_by

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
    doses: list[UnsignedDose]
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

    @cached_property
    def total(self) -> int:
        now = sum(one.days <= NOW_DAYS or one.is_sent_back for one in self.plans)
        now += sum(one.days <= NOW_DAYS for one in self.assessments)
        rest = len(self.concerns) + len(self.findings) + len(self.precautions)
        rest += len(self.unwritten) + len(self.events) + len(self.calls)
        rest += len(self.doses) + sum(one.is_now for one in self.short)
        return now + rest + len(self.referrals) + len(self.credentials)


def due_for(user: User, whose: str = "all") -> Due:
    """Everything due at the user's sites that the role may see. Constant in the number of rows.

    ``whose`` narrows plans, assessments and bookings to one clinician: a user's number, "none" for
    courses nobody looks after, else everybody's. What must not wait is never narrowed.
    """
    clinical = user.has_perm("patients.view_patient")
    sites = user.site_ids()
    here = user.my_sites()
    going = open_courses(here) if clinical else []
    plans = unsigned_at(here, AHEAD_DAYS, going) if clinical else []
    assessments = waiting_at(here, AHEAD_DAYS, going) if clinical else []
    short = short_at(here) if user.has_perm("enrolment.change_enrolment") else []
    hands = [one.clinician for one in plans] + [one.clinician for one in assessments]
    hands += [one.clinician for one in short]
    people = _people(hands, user)
    shares = _shares(hands, people, user, whose)
    whose = next((share.key for share in shares if share.is_shown), "all")
    mine = {n: _is_of(n, whose) for n in set(hands)}
    return Due(
        concerns=rows_at(_concerns, sites) if clinical else [],
        findings=rows_at(_findings, sites) if clinical else [],
        unwritten=rows_at(_unwritten, sites) if clinical else [],
        events=rows_at(_events, sites) if user.has_perm("attendance.review_event") else [],
        doses=unsigned_doses(one.pk for one in going) if signs_anywhere(user) else [],
        plans=[one for one in plans if mine[one.clinician]],
        assessments=[one for one in assessments if mine[one.clinician]],
        calls=calls_at(here) if clinical else [],
        short=[one for one in short if mine[one.clinician]],
        precautions=rows_at(_precautions, sites, day=_latest_day(user)) if clinical else [],
        referrals=on_clock(user) if user.has_perm("enrolment.view_referral") else [],
        credentials=rows_at(_credentials, sites, soon=_soon(user)),
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
    return {user.pk: user} | people_by(found)


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


@cache
def _must_not_wait(n_sites: int, *, with_events: bool) -> Prepared:
    def build(**sites: int) -> QuerySet[Any, Any]:
        at: Any = AtSites(list(sites.values()))
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


def _shown(way: str, *fields: str) -> list[str]:
    """The columns that Due shows of a person, and those that lead there: a row has thirty."""
    steps = way.split("__")
    ways = ["__".join(steps[: n + 1]) for n in range(len(steps))]
    return [*ways, f"{way}__given_name", f"{way}__family_name", *fields]


_STAFF = ["first_name", "last_name", "username"]


def _open_concerns(user: User) -> QuerySet[Any, Any]:
    return Concern.objects.visible_to(user).filter(closed_at=None)


def _concerns(user: User) -> QuerySet[Any, Any]:
    mine = _open_concerns(user).select_related("assessment__enrolment__patient", "owner")
    owner = [f"owner__{name}" for name in _STAFF]
    shown = _shown("assessment__enrolment__patient", "sentence", "raised_at", "owner", *owner)
    return mine.only(*shown)


def _unanswered(user: User) -> QuerySet[Any, Any]:
    """Holds and stops that nobody has answered."""
    unanswered = Finding.objects.filter(answered_at=None, cleared_at=None, level__gte=Level.HOLD)
    return unanswered.visible_to(user)


def _findings(user: User) -> QuerySet[Any, Any]:
    way = "visit__enrolment__patient"
    told = ["level", "sentence", "rule_id", "source", "origin", "visit__on"]
    mine = _unanswered(user).select_related(way).only(*_shown(way, *told))
    return mine.order_by("-visit__on", "-level")[:100]


def _to_write_up(user: User) -> QuerySet[Any, Any]:
    """Holds and stops that wait for their record: what was done, when the person may return."""
    return Interruption.objects.visible_to(user).filter(
        written_at=None, is_taken_back=False, settled_at=None
    )


def _unwritten(user: User) -> QuerySet[Any, Any]:
    way, by = "visit__enrolment__patient", [f"by__{name}" for name in _STAFF]
    mine = _to_write_up(user).select_related(way, "by")
    mine = mine.only(*_shown(way, "visit__on", "kind", "at", "by", *by))
    return mine.order_by("at")[:100]


def _to_review(user: User) -> QuerySet[Any, Any]:
    """Events no clinician has reviewed."""
    return SafetyEvent.objects.visible_to(user).filter(reviewed_at=None, is_withdrawn=False)


def _events(user: User) -> QuerySet[Any, Any]:
    mine = _to_review(user).select_related("patient")
    return mine.only(*_shown("patient", "happened_at", "kind")).order_by("happened_at")[:100]


def _precautions(user: User, *, day: date) -> QuerySet[Any, Any]:
    """Precautions of people in a course whose review day has come; they stay in force."""
    return (
        Precaution.objects.visible_to(user)
        .filter(
            lifted_on=None,
            review_on__lte=day,
            patient__enrolments__closed_on=None,
            patient__enrolments__isnull=False,
        )
        .distinct()
        .select_related("patient")
        .order_by("review_on")[:100]
    )


def _latest_day(user: User) -> date:
    return max((site.today() for site in user.my_sites()), default=date.today())


def _credentials(user: User, *, soon: date) -> QuerySet[Any, Any]:
    mine = Credential.objects.visible_to(user)
    return mine.filter(user__is_active=True, expires_on__lte=soon).select_related("user").distinct()


def _soon(user: User) -> date:
    here = user.my_sites()
    return (here[0].today() if here else date.today()) + timedelta(days=CARD_AHEAD_DAYS)
