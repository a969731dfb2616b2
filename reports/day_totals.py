"""What the classes of some sites came to over a span of days: kept days added up, the last counted.

Here stands the slow definition, from the visits, classes, findings and bookings themselves; it is
what the kept rows (``enrolment.DayTotals``) must come to.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Count, Exists, Max, Min, OuterRef, Q, Sum

from programs.attendance.calc.levels import Level
from programs.attendance.models import ClassMeeting, Finding, Visit
from programs.enrolment.models import ClassChange, ClassSlot, DayTotals, PlannedSession
from programs.enrolment.models.day_totals import KEPT_AFTER_DAYS, lock_days
from programs.prescription.calc.signature import SIGN_EVERY_DAYS
from programs.prescription.models import TreatmentPlan
from programs.staff.models import Site

State = Visit.State
CAME = [State.ARRIVED, State.EXERCISING, State.FINISHED, State.HELD, State.STOPPED]
COLUMNS = [f.name for f in DayTotals._meta.concrete_fields if f.name not in {"id", "site", "on"}]
CHUNK_DAYS = 31  # of some sites, counted and stored together
DAY = timedelta(days=1)
Key = tuple[int, date]  # site and day


def totals(sites: Iterable[int], since: date, until: date, today: date) -> dict[str, int]:
    """The columns of ``DayTotals`` over a span of days, both included; one query once all is kept.

    ``today`` is the sites' own; its last days are counted as they stand, and not kept.
    """
    sites = sorted(sites)
    kept_until = min(until, today - KEPT_AFTER_DAYS * DAY)
    first_on = _first_day(sites)
    found = dict.fromkeys(COLUMNS, 0)
    if first_on is None:
        return found
    since = max(since, first_on)
    if since <= kept_until:
        found = _added_up(sites, since, kept_until)
    recent = max(since, kept_until + DAY)
    if recent <= until:
        for row in worked_out(sites, recent, until).values():
            if row.on >= today:  # nobody can say yet whether it is attended
                row.make_ups = row.make_ups_attended = 0
            for name in COLUMNS:
                found[name] += getattr(row, name)
    return found


def _first_day(sites: Sequence[int]) -> date | None:
    meetings = ClassMeeting.objects.filter(slot__site__in=sites).order_by("on")
    return meetings.values_list("on", flat=True).first()


def _added_up(sites: Sequence[int], since: date, until: date) -> dict[str, int]:
    mine = DayTotals.objects.filter(site__in=sites, on__range=(since, until)).order_by()
    sums = {name: Sum(name) for name in COLUMNS}
    wanted = len(sites) * ((until - since).days + 1)
    while (found := mine.aggregate(n=Count("pk"), **sums)).pop("n") < wanted:
        keep(sites, since, until)
    return {name: n or 0 for name, n in found.items()}


def keep(sites: Sequence[int], since: date, until: date) -> None:
    """Count and store the days of a span that are not kept, a month at most together."""
    mine = DayTotals.objects.filter(site__in=sites, on__range=(since, until)).order_by()
    kept = set(mine.values_list("site", "on"))
    days = (since + n * DAY for n in range((until - since).days + 1))
    waiting = [(site, on) for on in days for site in sites if (site, on) not in kept]
    while waiting:
        last = waiting[0][1] + CHUNK_DAYS * DAY
        _keep([key for key in waiting if key[1] < last])
        waiting = [key for key in waiting if key[1] >= last]


@transaction.atomic
def _keep(keys: Sequence[Key]) -> None:
    """Whoever corrects one of these days is stored before, or takes its row away afterwards."""
    lock_days(shared=False)
    days = [on for _, on in keys]
    found = worked_out(sorted({site for site, _ in keys}), min(days), max(days))
    DayTotals.objects.bulk_create([found[key] for key in keys], ignore_conflicts=True)


# --- the slow definition ------------------------------------------------------------------------


def worked_out(sites: Sequence[int], since: date, until: date) -> dict[Key, DayTotals]:
    """What the row of every day of a span must be, from the record itself: eight queries."""
    found = {
        (site, on): DayTotals(site_id=site, on=on)
        for site in sites
        for on in (since + n * DAY for n in range((until - since).days + 1))
    }
    slots = dict(ClassSlot.objects.filter(site__in=sites).values_list("pk", "site"))
    span = Q(slot__in=list(slots), on__range=(since, until))
    # As values and not as a query inside one: databases guess such joins wrong, and read all of
    # the past for classes of a few days.
    rows = ClassMeeting.objects.filter(span).order_by()
    meetings = {
        pk: (found[slots[slot], on], slot, opened_at, exception)
        for pk, slot, on, opened_at, exception in rows.values_list(
            "pk", "slot", "on", "opened_at", "exception"
        )
    }
    visits = Visit.objects.filter(meeting__pk__listed=list(meetings)).order_by()
    came = _visits(visits, lambda meeting: meetings[meeting][0])
    _classes(meetings, came, _Seats(slots, span))
    _make_ups(span, lambda slot, on: found[slots[slot], on])
    return found


def _visits(visits: Any, day: Callable[[int], DayTotals]) -> set[int]:
    """Visits by what became of them; the meetings to which somebody came."""
    meeting_of, came = {}, set()
    rows = visits.values_list("pk", "meeting", "state", "absence", "minutes")
    for visit, meeting, state, absence, minutes in rows:
        meeting_of[visit] = meeting
        row = day(meeting)
        row.minutes += minutes or 0
        if state in CAME:
            row.came += 1
            came.add(meeting)
        if state == State.ABSENT:
            _add(row, f"absent_{absence}", 1)
        elif state in {State.HELD, State.STOPPED}:
            _add(row, state, 1)
    # By the visits' own keys: joined, a database begins with all findings there ever were.
    found = Finding.objects.filter(visit__pk__listed=list(meeting_of)).order_by()
    grave = Count("pk", filter=Q(level__gte=Level.HOLD))
    for visit, n, n_grave in found.values_list("visit").annotate(n=Count("pk"), grave=grave):
        row = day(meeting_of[visit])
        row.findings += n
        row.grave_findings += n_grave
    plan = TreatmentPlan.objects.filter(
        enrolment=OuterRef("enrolment"),
        signed_on__lte=OuterRef("on"),
        signed_on__gte=OuterRef("on") - SIGN_EVERY_DAYS * DAY,
    )
    counted = visits.filter(Q(counts_first=True) | Q(counts_second=True)).values_list("meeting")
    held = Count("pk", filter=Q(Exists(plan)))
    for meeting, n, n_held in counted.annotate(n=Count("pk"), held=held):
        day(meeting).counted += n
        day(meeting).with_plan += n_held
    return came


def _add(row: DayTotals, name: str, n: int) -> None:
    setattr(row, name, getattr(row, name) + n)


def _classes(meetings: dict[int, tuple[Any, ...]], came: set[int], seats: "_Seats") -> None:
    """Classes that were opened, and the seats of those that were opened or to which people came."""
    for pk, (row, slot, opened_at, exception) in meetings.items():
        if opened_at is not None:
            row.opened += 1
            row.opened_without += exception != ""
        if opened_at is not None or pk in came:
            row.seats += seats.of(slot, row.on)


class _Seats:
    """How many seats a class had on a day: as changed for it, else as the timetable said then.

    What was so before the first version of the timetable is not known; the first one stands.
    """

    def __init__(self, slots: dict[int, int], span: Q) -> None:
        zones = {site.pk: site.now().tzinfo for site in Site.objects.filter(pk__in=slots.values())}
        changed = ClassChange.objects.filter(span, seats__isnull=False)
        self.changed: dict[tuple[int, date], Any] = {
            (slot, on): n for slot, on, n in changed.values_list("slot", "on", "seats")
        }
        self.said: dict[int, list[tuple[date, int]]] = defaultdict(list)
        versions = ClassSlot.history.filter(id__in=list(slots)).order_by(
            "history_date", "history_id"
        )  # type: ignore[attr-defined]
        for slot, at, n in versions.values_list("id", "history_date", "seats"):
            self.said[slot].append((at.astimezone(zones[slots[slot]]).date(), n))

    def of(self, slot: int, on: date) -> int:
        if (slot, on) in self.changed:
            return self.changed[slot, on]
        seats = 0
        for day, n in self.said[slot]:
            if seats and day > on:
                break
            seats = n
        return seats


def _make_ups(span: Q, day: Callable[[int, date], DayTotals]) -> None:
    came = Visit.objects.filter(
        enrolment=OuterRef("enrolment"), meeting__slot=OuterRef("slot"), on=OuterRef("on"),
        state__in=CAME,
    )  # fmt: skip
    booked = PlannedSession.objects.filter(span, makes_up_on__isnull=False).order_by()
    rows = booked.values_list("slot", "on")
    attended = Count("pk", filter=Q(Exists(came)))
    for slot, on, n, n_came in rows.annotate(n=Count("pk"), attended=attended):
        day(slot, on).make_ups += n
        day(slot, on).make_ups_attended += n_came


# --- the proof ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Difference:
    """A day of a site of which something else is kept than the record says."""

    key: Key
    columns: tuple[str, ...]


def differences() -> Iterator[Difference]:
    """Every kept day of which the record says something else, in the order of days."""
    ends = DayTotals.objects.aggregate(first=Min("on"), last=Max("on"))
    since = ends["first"]
    while since is not None and since <= ends["last"]:
        until = since + (CHUNK_DAYS - 1) * DAY
        kept = list(DayTotals.objects.filter(on__range=(since, until)).order_by("on", "site"))
        right = worked_out(sorted({row.site_id for row in kept}), since, until)
        for row in kept:
            must = right[row.site_id, row.on]
            wrong = tuple(n for n in COLUMNS if getattr(row, n) != getattr(must, n))
            if wrong:
                yield Difference((row.site_id, row.on), wrong)
        since = until + DAY


def mend(wrong: Iterable[Difference], sites: dict[int, date]) -> None:
    """Count anew what differs, and every day of some sites (with their today) that is not kept."""
    for one in wrong:
        DayTotals.objects.forget(site=one.key[0], on=one.key[1])
    for site, today in sites.items():
        first_on, until = _first_day([site]), today - KEPT_AFTER_DAYS * DAY
        if first_on is not None and first_on <= until:
            keep([site], first_on, until)
