"""Running the weeks: who came, which seats were used, what happened, what was done in time.

Read from what is kept of each day (``reports.day_totals``) and of each course
(``reports.counting``); the few events, cards and drills are counted themselves.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Count, Max, Q, QuerySet
from django.utils.timezone import make_aware

from programs.attendance.models import SafetyEvent, Visit
from programs.enrolment.models import ReferralTotals, SignatureTotals
from programs.staff.models import Credential, Drill
from reports import counting, day_totals
from reports.calc.poisson import Rate
from reports.calc.proportion import Proportion
from reports.figures import number

Totals = Mapping[str, int]  # the columns of a day's row, added up
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
    return running(span), running(before, is_now=False)


def running(span: Span, *, is_now: bool = True) -> Running:
    """All figures of a span: eight queries, once its days and courses are counted."""
    counting.count(_going(span))
    day = day_totals.totals(span.sites, span.since, span.until, span.today)
    absent = {reason: day[f"absent_{reason}"] for reason in Visit.Absence.values}
    labels = dict(Visit.Absence.choices)
    hours = day["minutes"] / 60
    return Running(
        (
            *_attendance(day, absent),
            *_classes(day),
            _signatures(span),
            _six_weeks(span),
            _exits(span),
            _with_plan(day),
            _cards(span if is_now else None),
            _drills(span),
        ),
        _rates(span, day, hours),
        tuple(
            sorted(
                ((labels[k], n) for k, n in absent.items() if n), key=lambda one: (-one[1], one[0])
            )
        ),
        hours,
    )


def _going(span: Span) -> QuerySet[Any, Any]:
    """Courses that had not ended before these days."""
    return ReferralTotals.objects.filter(
        Q(left_on=None) | Q(left_on__gte=span.since), site__in=list(span.sites)
    )


def _attendance(day: Totals, absent: Mapping[str, int]) -> Iterable[ShareRow]:
    came = day["came"]
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
        Proportion(absent[Visit.Absence.UNKNOWN], booked),
        "Absent, and did not say why.",
    )
    yield ShareRow(
        "Make-ups attended",
        "of booked make-ups",
        Proportion(day["make_ups_attended"], day["make_ups"]),
        "Sessions booked in place of a missed one, before today.",
    )


def _classes(day: Totals) -> Iterable[ShareRow]:
    came, seats = day["came"], day["seats"]
    words = (
        "Held: opened, or somebody came. A seat is one place in one class, as the timetable had it "
        "then, or as it was changed for the day."
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
        Proportion(day["opened"] - day["opened_without"], day["opened"]),
        "Staff, cards, supervision and equipment were as the rules ask; else a reason was given.",
    )


def _signatures(span: Span) -> ShareRow:
    mine = SignatureTotals.objects.filter(
        Q(is_in_time=True) | Q(counts_on__lt=span.today),
        site__in=list(span.sites),
        counts_on__range=(span.since, span.until),
    )
    found = mine.order_by().aggregate(n=Count("pk"), in_time=number(Q(is_in_time=True)))
    return ShareRow(
        "Plan signatures in time",
        "of signatures that were due",
        Proportion(found["in_time"] or 0, found["n"]),
        "Within 30 days of the one before, the first by the day the course starts (42 CFR 410.49). "
        "One made in time counts on its day; one late or missing, on the day it was due.",
    )


def _six_weeks(span: Span) -> ShareRow:
    due = ReferralTotals.objects.filter(
        site__in=list(span.sites),
        six_weeks_on__range=(span.since, min(span.until, span.today - timedelta(days=1))),
    )
    found = due.order_by().aggregate(n=Count("pk"), done=number(Q(six_weeks_in_time=True)))
    return ShareRow(
        "Six-week reassessments in time",
        "of courses open after seven weeks",
        Proportion(found["done"] or 0, found["n"]),
        "Within seven days of day 42, of courses whose window ended in these days; courses with a "
        "pause are left out, their date moves.",
    )


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


def _with_plan(day: Totals) -> ShareRow:
    return ShareRow(
        "Sessions with a valid plan",
        "of counted sessions",
        Proportion(day["with_plan"], day["counted"]),
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


def _rates(span: Span, day: Totals, hours: float) -> tuple[RateRow, ...]:
    events = dict(
        SafetyEvent.objects.filter(
            site__in=list(span.sites), is_withdrawn=False, happened_at__range=_moments(span)
        )
        .order_by()
        .values_list("kind")
        .annotate(n=Count("pk"))
    )
    rows = [
        ("Findings", "a reading over a limit; no measure of harm", day["findings"]),
        ("Findings at hold or stop", "of these", day["grave_findings"]),
        ("Holds", "session not begun", day["held"]),
        ("Stops", "exercise ended early", day["stopped"]),
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
