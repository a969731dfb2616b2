"""Reads that feed the referral pages."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Prefetch

from programs.enrolment.calc.eligibility import Eligibility
from programs.enrolment.calc.start_clock import StartClock
from programs.enrolment.models import (
    ClassSlot,
    ContactAttempt,
    EligibilityAnswer,
    PlannedSession,
    Referral,
)
from programs.enrolment.services.referrals import judge
from programs.staff.models import Site


@dataclass
class ReferralLine:
    """A waiting referral on the clock, with the next thing to do."""

    referral: Referral
    clock: StartClock
    next_step: str
    eligibility: Eligibility


def waiting_lines(user: Any) -> list[ReferralLine]:
    """Waiting referrals of the user's sites, the longest wait first."""
    found = (
        Referral.objects.visible_to(user)
        .waiting()
        .select_related("patient__site", "condition")
        .prefetch_related(
            Prefetch("contacts", queryset=ContactAttempt.objects.order_by("-at")),
            Prefetch("answers", queryset=EligibilityAnswer.objects.order_by("-at", "-pk")),
        )
    )
    return sorted((line_of(r) for r in found), key=lambda line: -line.clock.day)


def line_of(referral: Referral) -> ReferralLine:
    today = referral.patient.site.today()
    said = judge(referral, today)
    return ReferralLine(referral, referral.clock(today), next_step(referral, said), said)


def next_step(referral: Referral, said: Eligibility) -> str:
    """What somebody should do now, in a few words."""
    contacts = list(referral.contacts.all())
    answer = next(iter(referral.answers.all()), None)
    if answer is None and said.missing:
        return f"Ask for: {said.missing[0]}"
    if answer is None:
        return "Confirm eligibility"
    if answer.decision == EligibilityAnswer.Decision.NOT_ELIGIBLE:
        return "Close, or send more information"
    if not contacts:
        return "Call to offer a start"
    if contacts[0].outcome != ContactAttempt.Outcome.REACHED:
        tried = f"{len(contacts)} tried"
        when = contacts[0].next_try_on
        return f"Call again on {when:%-d %b} ({tried})" if when else f"Call again ({tried})"
    return "Enrol"


def closed_lines(user: Any) -> Iterable[Referral]:
    """Referrals that ended without enrolment, newest first."""
    return (
        Referral.objects.visible_to(user)
        .filter(state=Referral.State.NOT_ENROLLING)
        .select_related("patient__site", "condition")
        .order_by("-referred_on", "-pk")[:100]
    )


@dataclass
class SeatLine:
    """A class with the seats it keeps free over the coming twelve weeks."""

    slot: ClassSlot
    free: int


def seat_lines(site: Site, start_on: date) -> list[SeatLine]:
    """Seats free in every open class: seats less the fullest day of the next twelve weeks."""
    until = start_on + timedelta(weeks=12)
    per_day = (
        PlannedSession.objects.filter(slot__site=site, on__range=(start_on, until))
        .order_by()
        .values("slot", "on")
        .annotate(n=Count("pk"))
    )
    fullest: dict[int, int] = {}
    for row in per_day:
        fullest[row["slot"]] = max(fullest.get(row["slot"], 0), row["n"])
    return [
        SeatLine(slot, max(0, slot.seats - fullest.get(slot.pk, 0)))
        for slot in ClassSlot.objects.filter(site=site, is_open=True)
    ]
