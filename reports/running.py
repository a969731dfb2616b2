"""Running the weeks: who came, which seats were used, what happened, what was done in time.

Counted from the sessions themselves, of classes held in a span of days; nothing of it is stored.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import groupby
from typing import Any

from django.db.models import Count, Exists, F, FilteredRelation, Max, OuterRef, Q, QuerySet, Sum
from django.utils.timezone import make_aware

from assessments.calc.timing import SIX_WEEKS_DAYS, WINDOWS
from assessments.models import Assessment
from programs.attendance.calc.levels import Level
from programs.attendance.models import (
    ClassMeeting,
    SafetyEvent,
    Visit,
)
from programs.enrolment.models import (
    ClassChange,
    ClassSlot,
    Enrolment,
    Pause,
    PlannedSession,
    ReferralTotals,
)
from programs.prescription.calc.signature import SIGN_EVERY_DAYS
from programs.prescription.models import TreatmentPlan
from programs.staff.models import Credential, Drill
from reports.calc.poisson import Rate
from reports.calc.proportion import Proportion

State = Visit.State
States = dict[tuple[str, str], tuple[int, int]]  # state and reason: visits, minutes
CAME = {State.ARRIVED, State.EXERCISING, State.FINISHED, State.HELD, State.STOPPED}
SERIOUS = {SafetyEvent.Kind.EMERGENCY, SafetyEvent.Kind.TRANSFER}
DRILL_DAYS = 92  # a quarter


@dataclass(frozen=True)
class Span:
    """Classes of some sites from a day to another, both included; today is not over."""

    sites: Mapping[int, str]
    since: date
    until: date
    today: date


@dataclass(frozen=True)
class ShareRow:
    """A share as a line: what it is of, and what is left out."""

    name: str
    of: str
    share: Proportion
    counts: str  # what this counts, in a sentence
    none: str = "none in these days"  # where there is no share


@dataclass(frozen=True)
class RateRow:
    """A rate per 1,000 patient-hours as a line."""

    name: str
    of: str
    rate: Rate


@dataclass(frozen=True)
class Running:
    """Everything the page says of one span."""

    shares: tuple[ShareRow, ...]
    rates: tuple[RateRow, ...]
    absences: tuple[tuple[str, int], ...]  # by reason, the commonest first
    hours: float


def beside(span: Span, before: Span) -> tuple[Running, Running]:
    """Two spans of the same sites; what stands as of today is told of the first."""
    slots = slots_of(span)
    return running(span, slots), running(before, slots, is_now=False)


def slots_of(span: Span) -> dict[int, int]:
    """Seats of every class of the sites, by class."""
    return dict(ClassSlot.objects.filter(site__in=list(span.sites)).values_list("pk", "seats"))


def running(span: Span, slots: dict[int, int], *, is_now: bool = True) -> Running:
    """All figures of a span: eleven queries, whatever was held."""
    meetings = ClassMeeting.objects.filter(
        slot__in=list(slots), on__range=(span.since, span.until)
    ).order_by()
    # As values and not as a query inside one: databases guess such joins wrong, and read all of
    # the past for classes of a few days.
    held = list(meetings.values_list("pk", "slot", "opened_at", "exception"))
    visits = Visit.objects.filter(meeting__pk__listed=[row[0] for row in held]).order_by()
    came_to, states = _states(visits)
    came = sum(n for (state, _), (n, _) in states.items() if state in CAME)
    absent = {reason: n for (state, reason), (n, _) in states.items() if state == State.ABSENT}
    hours = sum(minutes for _, minutes in states.values()) / 60
    labels = dict(Visit.Absence.choices)
    return Running(
        (
            *_attendance(came, absent),
            _make_ups(span, slots),
            *_classes(span, [(*row[1:], came_to.get(row[0], 0)) for row in held], slots, came),
            _signatures(span),
            _six_weeks(span),
            _exits(span),
            _with_plan(visits),
            _cards(span if is_now else None),
            _drills(span),
        ),
        _rates(span, visits, states, hours),
        tuple(
            sorted(((labels[k], n) for k, n in absent.items()), key=lambda one: (-one[1], one[0]))
        ),
        hours,
    )


def _states(visits: QuerySet[Any, Any]) -> tuple[dict[int, int], States]:
    """How many came to each class, and what became of all visits."""
    came: dict[int, int] = {}
    states: States = {}
    rows = visits.values_list("meeting", "state", "absence")
    for meeting, state, absence, n, minutes in rows.annotate(Count("pk"), Sum("minutes")):
        if state in CAME:
            came[meeting] = came.get(meeting, 0) + n
        before, lasted = states.get((state, absence), (0, 0))
        states[state, absence] = before + n, lasted + (minutes or 0)
    return came, states


def _attendance(came: int, absent: Mapping[str, int]) -> Iterable[ShareRow]:
    booked = came + sum(absent.values())
    yield ShareRow(
        "Attendance",
        "of sessions somebody came to or was noted absent from",
        Proportion(came, booked),
        "Came: checked in, whatever became of the session. A booked session that nobody noted is "
        "in neither number.",
    )
    yield ShareRow(
        "No-shows",
        "of the same sessions",
        Proportion(absent.get(Visit.Absence.UNKNOWN, 0), booked),
        "Absent, and did not say why.",
    )


def _make_ups(span: Span, slots: Mapping[int, int]) -> ShareRow:
    held = Visit.objects.filter(
        enrolment=OuterRef("enrolment"), meeting__slot=OuterRef("slot"), on=OuterRef("on"),
        state__in=CAME,
    )  # fmt: skip
    until = min(span.until, span.today - timedelta(days=1))
    rows = PlannedSession.objects.filter(
        slot__in=list(slots), on__range=(span.since, until), makes_up_on__isnull=False
    ).order_by()
    found = rows.aggregate(n=Count("pk"), came=Count("pk", filter=Q(Exists(held))))
    return ShareRow(
        "Make-ups attended",
        "of booked make-ups",
        Proportion(found["came"], found["n"]),
        "Sessions booked in place of a missed one, before today.",
    )


def _classes(
    span: Span, held: Sequence[Any], slots: Mapping[int, int], came: int
) -> Iterable[ShareRow]:
    met = [slot for slot, at, _, n in held if at is not None or n]
    opened = [exception for _, at, exception, _ in held if at is not None]
    other: Any = ClassChange.objects.filter(
        slot__in=list(slots), on__range=(span.since, span.until), seats__isnull=False
    )
    seats = sum(slots[slot] for slot in met)
    seats += sum(n - slots[slot] for slot, n in other.values_list("slot", "seats"))
    n_opened, n_odd = len(opened), sum(exception != "" for exception in opened)
    words = (
        "Held: opened, or somebody came. A seat is one place in one class; seats are as the class "
        "has them today, or as they were changed for the day."
    )
    yield ShareRow(
        "Seats used",
        "of places in classes that were held",
        Proportion(came, seats) if came <= seats else Proportion(0, 0),
        words,
        f"more came ({came}) than there are places ({seats})" if seats else "none in these days",
    )
    yield ShareRow(
        "Opened with everything in order",
        "of classes that were opened",
        Proportion(n_opened - n_odd, n_opened),
        "Staff, cards, supervision and equipment were as the rules ask; else a reason was given.",
    )


def _signatures(span: Span) -> ShareRow:
    first = span.since - timedelta(days=SIGN_EVERY_DAYS)
    going = Enrolment.objects.filter(
        Q(closed_on=None) | Q(closed_on__gte=span.since),
        patient__site__in=list(span.sites),
        starts_on__lte=span.until,
    ).order_by()
    in_these = Q(plans__signed_on__range=(first, span.until))
    signed = going.annotate(signed=FilteredRelation("plans", condition=in_these))
    found: Any = signed.order_by("pk", "signed__signed_on", "signed__pk").values_list(
        "pk", "starts_on", "closed_on", "signed__signed_on"
    )
    n = in_time = 0
    for (_, starts_on, closed_on), plans in groupby(found, key=lambda row: row[:3]):
        ends = min(day for day in (span.until, span.today, closed_on) if day is not None)
        due_on = starts_on if starts_on >= first else None  # earlier ones: not known from here
        for *_, on in plans:
            if on is None:
                break
            if on >= span.since:
                n += 1
                in_time += due_on is not None and on <= due_on
            due_on = on + timedelta(days=SIGN_EVERY_DAYS)
        # What is due and was never signed is late as well.
        n += due_on is None or due_on < ends
    return ShareRow(
        "Plan signatures in time",
        "of signatures that were due, of courses that had not ended before",
        Proportion(in_time, n),
        "Within 30 days of the one before, the first by the day the course starts (42 CFR 410.49). "
        "Due and not signed counts as not in time.",
    )


def _six_weeks(span: Span) -> ShareRow:
    early, late = WINDOWS["six_weeks"]
    latest = SIX_WEEKS_DAYS + late
    due = Enrolment.objects.filter(
        patient__site__in=list(span.sites),
        starts_on__range=(span.since - timedelta(days=latest), _last(span, latest)),
    ).order_by()
    open_then = Q(closed_on=None) | Q(closed_on__gt=F("starts_on") + timedelta(days=latest))
    paused = Pause.objects.filter(enrolment=OuterRef("pk"))
    due = due.filter(open_then).exclude(Exists(paused))
    done = Assessment.objects.filter(
        enrolment=OuterRef("pk"),
        kind=Assessment.Kind.SIX_WEEKS,
        performed_on__gte=OuterRef("starts_on") + timedelta(days=SIX_WEEKS_DAYS - early),
        performed_on__lte=OuterRef("starts_on") + timedelta(days=latest),
    )
    found = due.aggregate(n=Count("pk"), done=Count("pk", filter=Q(Exists(done))))
    return ShareRow(
        "Six-week reassessments in time",
        "of courses open after seven weeks",
        Proportion(found["done"], found["n"]),
        "Within seven days of day 42, of courses whose window ended in these days; courses with a "
        "pause are left out, their date moves.",
    )


def _last(span: Span, days: int) -> date:
    """The last start whose window, of so many days, ended in the span and before today."""
    return min(span.until, span.today - timedelta(days=1)) - timedelta(days=days)


def _exits(span: Span) -> ShareRow:
    ended = ReferralTotals.objects.filter(
        site__in=list(span.sites), left_on__range=(span.since, span.until), sessions__gt=0
    )
    found = ended.order_by().aggregate(n=Count("pk"), done=Count("pk", filter=Q(has_exit=True)))
    return ShareRow(
        "Exit assessments done",
        "of courses that ended",
        Proportion(found["done"], found["n"]),
        "Courses with one session or more that ended in these days, whatever the reason.",
    )


def _with_plan(visits: QuerySet[Any, Any]) -> ShareRow:
    plan = TreatmentPlan.objects.filter(
        enrolment=OuterRef("enrolment"),
        signed_on__lte=OuterRef("on"),
        signed_on__gte=OuterRef("on") - timedelta(days=SIGN_EVERY_DAYS),
    )
    counted = visits.filter(Q(counts_first=True) | Q(counts_second=True))
    found = counted.aggregate(n=Count("pk"), held=Count("pk", filter=Q(Exists(plan))))
    return ShareRow(
        "Sessions with a valid plan",
        "of counted sessions",
        Proportion(found["held"], found["n"]),
        "A plan signed on the day or in the 30 days before.",
    )


def _cards(span: Span | None) -> ShareRow:
    share = Proportion(0, 0)
    if span is not None:
        held = Credential.objects.filter(user__sites__in=list(span.sites), user__is_active=True)
        latest = held.order_by().values_list("user", "kind").annotate(last=Max("expires_on"))
        days = [last for _, _, last in latest]
        share = Proportion(sum(day >= span.today for day in days), len(days))
    return ShareRow(
        "Certifications valid today",
        "of certifications on record",
        share,
        "Of each person the latest card of a kind; as of today, whatever the days above.",
    )


def _drills(span: Span) -> ShareRow:
    held = Drill.objects.filter(
        site__in=list(span.sites),
        on__range=(span.since - timedelta(days=DRILL_DAYS), span.until),
        is_withdrawn=False,
    )
    by_site: dict[int, list[date]] = {}
    for site, on in held.order_by().values_list("site", "on"):
        by_site.setdefault(site, []).append(on)
    ends = _quarter_ends(span)
    met = sum(
        any(end - timedelta(days=DRILL_DAYS) < on <= end for on in by_site.get(site, []))
        for site in span.sites
        for end in ends
    )
    return ShareRow(
        "Emergency drills in time",
        "of site quarters",
        Proportion(met, len(ends) * len(span.sites)),
        "Quarters of 92 days counted back from the last day, whole ones only.",
    )


def _quarter_ends(span: Span) -> Sequence[date]:
    found, end = [], min(span.until, span.today)
    while end - timedelta(days=DRILL_DAYS - 1) >= span.since:
        found.append(end)
        end -= timedelta(days=DRILL_DAYS)
    return found


def _rates(span: Span, visits: QuerySet[Any, Any], states: States, hours: float) -> Any:
    # Asked of the visits: asked of the findings, a database begins with all there ever were.
    levels: dict[int | None, int] = dict(
        visits.values_list("findings__level").annotate(n=Count("findings"))
    )
    held, stopped = (
        sum(n for (s, _), (n, _) in states.items() if s == state)
        for state in (State.HELD, State.STOPPED)
    )
    events = dict(
        SafetyEvent.objects.filter(
            site__in=list(span.sites), is_withdrawn=False, happened_at__range=_moments(span)
        )
        .order_by()
        .values_list("kind")
        .annotate(n=Count("pk"))
    )
    rows = [
        ("Findings", "a reading over a limit; no measure of harm", sum(levels.values())),
        (
            "Findings at hold or stop",
            "of these",
            levels.get(Level.HOLD, 0) + levels.get(Level.STOP, 0),
        ),
        ("Holds", "session not begun", held),
        ("Stops", "exercise ended early", stopped),
        ("Events", "symptom, fall, emergency or other", sum(events.values())),
        (
            "Serious events",
            "emergency call or transfer; read one by one",
            sum(events.get(kind, 0) for kind in SERIOUS),
        ),
    ]
    return tuple(RateRow(name, of, Rate(n, hours)) for name, of, n in rows)


def _moments(span: Span) -> tuple[datetime, datetime]:
    """From the first midnight to the last, in the time zone that is in force."""
    return (
        make_aware(datetime.combine(span.since, time.min)),
        make_aware(datetime.combine(span.until, time.max)),
    )
