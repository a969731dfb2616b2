"""Reads that feed the referral pages."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple

from django.db.models import F, QuerySet

from patients.models import Condition
from patients.prepared import Prepared, attach, rows_at
from programs.enrolment.calc import documents
from programs.enrolment.calc.eligibility import Eligibility
from programs.enrolment.calc.next_step import NextStep, Standing, next_step
from programs.enrolment.calc.start_clock import StartClock, start_clock
from programs.enrolment.models import ContactAttempt, EligibilityAnswer, Referral, ReferralDocument
from programs.enrolment.referrals.services import judge
from programs.staff.models import User


@dataclass
class ReferralLine:
    """A waiting referral on the clock, with the next thing to do and whose it is."""

    referral: Referral
    clock: StartClock
    step: NextStep
    eligibility: Eligibility

    @property
    def who(self) -> str:
        """Who does the next step: its owner, else the role that can."""
        owner = self.referral.owner
        return str(owner) if owner else f"Unassigned ({self.step.role})"


class OnClock(NamedTuple):
    """A waiting referral and its clock, by key alone."""

    pk: int
    clock: StartClock

    @property
    def key(self) -> str:
        return str(self.pk)

    @property
    def order(self) -> tuple[int, int]:
        """The longest wait first."""
        return -self.clock.day, self.pk


def on_clock(user: User, *, mine: bool = False, states: Sequence[str] = ()) -> list[OnClock]:
    """Waiting referrals of the user's sites, the longest wait first: one query of bare values."""
    days = {site.pk: site.today() for site in user.my_sites()}
    rows = rows_at(_waiting, list(days), **({"owner": user.pk} if mine else {}))
    waits = [
        OnClock(pk, start_clock(days[site], discharged_on=out, event_on=event, referred_on=came))
        for pk, site, out, event, came, state in rows
        if not states or state in states
    ]
    return sorted(waits, key=lambda one: one.order)


def _waiting(at: Any, owner: int | None = None) -> QuerySet[Any, Any]:
    found = Referral.objects.visible_to(at).waiting().order_by()
    if owner is not None:
        found = found.filter(owner=owner)
    return found.values_list(
        "pk",
        "patient__site",
        "discharged_on",
        "condition__happened_on",
        "referred_on",
        "state",
    )


def _facts(keys: Any) -> QuerySet[Any, Any]:
    rows = Referral.objects.filter(pk__listed=keys)
    return rows.select_related(*Referral.FACTS).order_by()


def _others(keys: Any) -> QuerySet[Any, Any]:
    found = Condition.objects.filter(further_referrals__pk__listed=keys)
    return found.annotate(of=F("further_referrals"))


def _of_referral(rows: Any, *order: str) -> Prepared:
    return Prepared(lambda keys: rows.filter(referral__pk__listed=keys).order_by(*order), keys=list)


_FACTS, _OTHERS = Prepared(_facts, keys=list), Prepared(_others, keys=list)
_CONTACTS = _of_referral(ContactAttempt.objects, "-at")
_ANSWERS = _of_referral(EligibilityAnswer.objects, "-at", "-pk")
_PAPERS = _of_referral(ReferralDocument.objects, "pk")


def lines_of(waits: Sequence[OnClock]) -> list[ReferralLine]:
    """The referrals a page shows, each with its next step; a constant number of queries."""
    keys = [one.pk for one in waits]
    found = _FACTS(keys=keys)
    attach(found, "others", _OTHERS(keys=keys), "of", model=Condition)
    attach(found, "contacts", _CONTACTS(keys=keys), "referral_id", model=ContactAttempt)
    attach(found, "answers", _ANSWERS(keys=keys), "referral_id", model=EligibilityAnswer)
    attach(found, "documents", _PAPERS(keys=keys), "referral_id", model=ReferralDocument)
    by_key = {referral.pk: referral for referral in found}
    return [line_of(by_key[one.pk]) for one in waits if one.pk in by_key]


def line_of(referral: Referral) -> ReferralLine:
    today = referral.patient.site.today()
    said = judge(referral, today)
    step = next_step(standing_of(referral, said), today)
    return ReferralLine(referral, referral.clock(today), step, said)


def standing_of(referral: Referral, said: Eligibility) -> Standing:
    """How far the work on a referral has come; reads what is prefetched."""
    contacts = list(referral.contacts.all())
    answer = next(iter(referral.answers.all()), None)
    latest = contacts[0] if contacts else None
    return Standing(
        eligibility=said,
        decision=answer.decision if answer else "",
        outstanding=[str(p) for p in referral.documents.all() if p.received_on is None],
        n_tries=len(contacts),
        is_reached=latest is not None and latest.outcome == ContactAttempt.Outcome.REACHED,
        next_try_on=latest.next_try_on if latest else None,
        is_on_waiting_list=referral.state == Referral.State.SEAT,
    )


def closed(user: User) -> Any:
    """Referrals that ended without enrolment."""
    mine = Referral.objects.visible_to(user).filter(state=Referral.State.NOT_ENROLLING)
    return mine.select_related("patient", "condition")


@dataclass
class PaperLine:
    """A paper worth having, with where it stands: not asked for, asked for, or here."""

    kind: str
    name: str
    paper: ReferralDocument | None

    @property
    def is_here(self) -> bool:
        return self.paper is not None and self.paper.received_on is not None


def paper_lines(referral: Referral) -> list[PaperLine]:
    """The papers the conditions call for, and any other on the list."""
    known = {paper.kind: paper for paper in referral.documents.all()}
    wanted = documents.wanted(condition.kind for condition in referral.conditions())
    return [
        PaperLine(kind, name, known.get(kind))
        for kind, name in documents.NAMES.items()
        if kind in wanted or kind in known
    ]


def fair_order(user: User) -> list[OnClock]:
    """Who waits for a seat: whoever has waited longest on the clock comes first."""
    return on_clock(user, states=[Referral.State.SEAT])


def first_day(referral: Referral) -> date:
    """The earliest first session: tomorrow, or the day after a planned discharge."""
    tomorrow = referral.patient.site.today() + timedelta(days=1)
    out = referral.discharged_on
    return max(tomorrow, out + timedelta(days=1)) if out else tomorrow


def not_yet_there(referral: Referral) -> list[str]:
    """What a careful clinic has before the first session and this referral lacks; bars nothing."""
    patient = referral.patient
    here = {p.kind for p in referral.documents.all() if p.received_on is not None}
    return [
        words
        for words, is_there in [
            ("physician’s order", documents.ORDER in here),
            ("entry screen", patient.entry_screens.exists()),
            ("risk class", patient.stratifications.exists()),
        ]
        if not is_there
    ]
