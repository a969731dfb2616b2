"""The start outlook's facts, read from the clinic's own last six months."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Exists, Max, OuterRef, Q, Subquery

from patients.models import Patient
from programs.attendance.models import Visit
from programs.enrolment.models import (
    ClassSlot,
    Closure,
    EligibilityAnswer,
    Enrolment,
    PlannedSession,
    Referral,
)
from programs.staff.models import Site
from reports.calc.start_outlook import Clinic, SimClass

LOOK_BACK_DAYS = 182
FEWEST = 5  # observations below which the usual value stands in
USUAL_STAY_DAYS = 84
USUAL_PREPARING_DAYS = 5  # common practice, no source
NO_SHOW_DAYS = 14  # until an unused seat is given away; common practice, no source


@dataclass(frozen=True)
class Facts:
    """A clinic for the simulation, and every assumption in words."""

    clinic: Clinic
    assumptions: list[str]


def facts_of(site: Site, today: date, preparing_days: float) -> Facts:
    """What the last six months say, with the number of observations behind each figure."""
    since = today - timedelta(days=LOOK_BACK_DAYS)
    per_day, arrivals_words = _arrivals(site, since, today)
    stays, stays_words = _stays(site, since, today)
    per_week, per_week_words = _per_week(site, since)
    share, share_words = _no_shows(site, since, today)
    ahead = _ahead(site, preparing_days)
    closed = [
        (day - today).days
        for day in Closure.objects.in_force()
        .filter(site=site, on__gte=today)
        .values_list("on", flat=True)
    ]
    classes = _classes(site, today)
    clinic = Clinic(
        classes=classes,
        arrivals_per_day=per_day,
        stays_days=stays,
        per_week=per_week,
        no_show_share=share,
        no_show_days=NO_SHOW_DAYS,
        preparing_days=preparing_days,
        ahead=ahead,
        closed_days=frozenset(closed),
        today_weekday=today.weekday(),
    )
    n_seats = sum(len(one.free_from) for one in classes)
    return Facts(
        clinic,
        [
            arrivals_words,
            stays_words,
            per_week_words,
            share_words,
            f"{len(classes)} classes a week with {n_seats} seats; seats in use are free again "
            "after the last booked session",
            f"{len(ahead)} people already waiting are booked first, first come first served",
            f"{preparing_days:g} days from referral until somebody can start (entered beside)",
            f"{len(closed)} closed days ahead",
            _observed(site, since, today),
        ],
    )


def _at(site: Site) -> Exists:
    """Whose patient is at the site, asked of each row that a date or a state has left.

    As a join, SQLite without statistics goes through everybody the site has ever had.
    """
    return Exists(Patient.objects.filter(pk=OuterRef("patient"), site=site))


def _observed(site: Site, since: date, today: date) -> str:
    """What people who began really waited: more than a seat stands between referral and start."""
    begun = Enrolment.objects.filter(_at(site), starts_on__range=(since, today))
    days = begun.values_list("starts_on", "referral__referred_on")
    waits = sorted((start - referred).days for start, referred in days)
    if len(waits) < FEWEST:
        return f"too few starts ({len(waits)}) to compare with what people really waited"
    middle = waits[len(waits) // 2]
    return (
        f"for comparison: half of those who began waited {middle} days or more from referral "
        f"({len(waits)} people); only waiting for a seat is simulated"
    )


def _arrivals(site: Site, since: date, today: date) -> tuple[float, str]:
    wanting = [state for state in Referral.State if state != Referral.State.NOT_ENROLLING]
    received = Referral.objects.filter(_at(site), referred_on__range=(since, today))
    n = received.filter(state__in=wanting).count()
    per_day = n / LOOK_BACK_DAYS
    words = f"{per_day * 7:.1f} referrals a week that want a seat ({n} in the last 26 weeks)"
    return per_day, words


def _stays(site: Site, since: date, today: date) -> tuple[tuple[float, ...], str]:
    ended = Enrolment.objects.filter(_at(site), closed_on__range=(since, today))
    days = tuple(
        float((end - start).days + 1)
        for start, end in ended.values_list("starts_on", "closed_on")
        if end is not None and end >= start
    )
    if len(days) < FEWEST:
        words = f"a stay of {USUAL_STAY_DAYS} days: only {len(days)} courses ended in 26 weeks"
        return (float(USUAL_STAY_DAYS),), words
    middle = sorted(days)[len(days) // 2]
    return days, f"stays as observed, median {middle:.0f} days ({len(days)} courses ended)"


def _per_week(site: Site, since: date) -> tuple[tuple[int, ...], str]:
    begun = Enrolment.objects.filter(_at(site), starts_on__gte=since)
    found = begun.annotate(n=Count("slots")).values_list("n", flat=True)
    counts = tuple(sorted(n for n in found if n > 0))  # in one order, for the seed's sake
    if len(counts) < FEWEST:
        return (3,), f"three sessions a week: only {len(counts)} courses began in 26 weeks"
    mean = sum(counts) / len(counts)
    return counts, f"{mean:.1f} sessions a week on average ({len(counts)} courses began)"


def _no_shows(site: Site, since: date, today: date) -> tuple[float, str]:
    came = Visit.objects.filter(enrolment=OuterRef("pk")).exclude(
        state__in=[Visit.State.ABSENT, Visit.State.EXPECTED]
    )
    due = Enrolment.objects.filter(
        _at(site),
        Q(closed_on__isnull=False) | Q(starts_on__lte=today - timedelta(days=NO_SHOW_DAYS)),
        starts_on__range=(since, today),
    )
    n, n_never = due.count(), due.filter(~Exists(came)).count()
    if n < FEWEST:
        return 0.0, f"everybody booked comes: only {n} starts to judge by"
    share = n_never / n
    words = f"{share:.0%} of booked people never come ({n_never} of {n}); their seats are given "
    return share, words + f"away after {NO_SHOW_DAYS} days"


def _ahead(site: Site, preparing_days: float) -> tuple[float, ...]:
    """Days until each waiting person can start: none once eligibility is confirmed."""
    latest = EligibilityAnswer.objects.filter(referral=OuterRef("pk")).order_by("-at", "-pk")
    waiting: Any = Referral.objects.filter(_at(site)).waiting()
    answered = waiting.annotate(answer=Subquery(latest.values("decision")[:1]))
    return tuple(
        0.0 if decision == EligibilityAnswer.Decision.ELIGIBLE else preparing_days
        for decision in answered.values_list("answer", flat=True)
        if decision != EligibilityAnswer.Decision.NOT_ELIGIBLE
    )


def _classes(site: Site, today: date) -> tuple[SimClass, ...]:
    """Each open class with the day from which each of its seats is free."""
    taken: dict[int, list[float]] = defaultdict(list)
    booked = (
        PlannedSession.objects.filter(slot__site=site, on__gte=today)
        .order_by()
        .values("slot", "enrolment")
        .annotate(last=Max("on"))
    )
    for row in booked:
        taken[row["slot"]].append(float((row["last"] - today).days + 1))
    found = []
    for slot in ClassSlot.objects.filter(site=site, is_open=True):
        busy = sorted(taken[slot.pk], reverse=True)[: slot.seats]
        free = (0.0,) * (slot.seats - len(busy))
        found.append(SimClass(slot.weekday, (*free, *busy), slot.pk))
    return tuple(found)
