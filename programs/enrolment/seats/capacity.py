"""Reads about seats: free ones per class, the next twelve weeks, starts that fit."""

from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Count

from patients.wall import clock
from programs.enrolment.calc.start_finder import Offer, OpenClass, find_starts
from programs.enrolment.models import ClassChange, ClassSlot, Closure, PlannedSession, Referral
from programs.staff.models import Site

WEEKS_AHEAD = 12
Booked = dict[tuple[int, date], int]


@dataclass
class Cell:
    """One class on one day."""

    on: date
    n_booked: int
    seats: int
    change: ClassChange | None = None
    closure: str = ""

    @property
    def free(self) -> int:
        return max(0, self.seats - self.n_booked)

    @property
    def why(self) -> str:
        """Why the class is not held."""
        return self.closure or (self.change.reason if self.change else "")

    @property
    def is_held(self) -> bool:
        return not self.closure and not (self.change and self.change.is_cancelled)


@dataclass
class ClassRow:
    """A class with the weeks ahead."""

    slot: ClassSlot
    by_week: list[Cell | None] = field(default_factory=list)  # None: this week's day has passed

    @property
    def cells(self) -> list[Cell]:
        return [cell for cell in self.by_week if cell is not None]

    @property
    def free(self) -> int:
        """Seats free throughout the next twelve weeks: those of the fullest day."""
        soon = [cell for cell in self.by_week[:WEEKS_AHEAD] if cell is not None]
        return min((cell.free for cell in soon if cell.is_held), default=0)


@dataclass
class Capacity:
    """A site's classes over the coming weeks."""

    site: Site
    rows: list[ClassRow]
    weeks: list[date]  # Mondays
    booked: Booked
    closed: dict[date, str]


def capacity_of(site: Site, from_on: date, weeks: int = WEEKS_AHEAD) -> Capacity:
    """Booked and free seats of every open class. Four queries, whatever the number of classes."""
    monday = from_on - timedelta(days=from_on.weekday())
    until = monday + timedelta(weeks=weeks, days=-1)
    slots = list(ClassSlot.objects.filter(site=site, is_open=True))
    booked: Booked = {
        (row["slot"], row["on"]): row["n"]
        for row in PlannedSession.objects.filter(slot__in=slots, on__range=(monday, until))
        .order_by()
        .values("slot", "on")
        .annotate(n=Count("pk"))
    }
    changes = {
        (change.slot_id, change.on): change
        for change in ClassChange.objects.filter(slot__in=slots, on__range=(monday, until))
    }
    closed = dict(
        Closure.objects.in_force().filter(site=site, on__gte=from_on).values_list("on", "reason")
    )
    mondays = [monday + timedelta(weeks=n) for n in range(weeks)]
    rows = []
    for slot in slots:
        row = ClassRow(slot)
        for week in mondays:
            day = week + timedelta(days=slot.weekday)
            if day < from_on:
                row.by_week.append(None)
                continue
            change = changes.get((slot.pk, day))
            special = change.seats if change and change.seats is not None else slot.seats
            n = booked.get((slot.pk, day), 0)
            row.by_week.append(Cell(day, n, special, change, closed.get(day, "")))
        rows.append(row)
    return Capacity(site, rows, mondays, booked, closed)


@dataclass
class OfferLine:
    """A start that fits, in words for the phone."""

    offer: Offer
    slots: list[ClassSlot]

    @property
    def keys(self) -> str:
        return ",".join(str(slot.pk) for slot in self.slots)

    @property
    def words(self) -> str:
        if self.offer.is_same_hour:
            days = ", ".join(slot.get_weekday_display() for slot in self.slots)
            return f"{days} at {clock(self.slots[0].starts_at)}"
        return ", ".join(str(slot) for slot in self.slots)


def course_weeks(referral: Referral, sessions: int) -> int:
    """Weeks a course takes, with two to spare: closures push it back."""
    return -(-sessions // referral.wanted_per_week) + 2


def capacity_for(referral: Referral, from_on: date, sessions: int) -> Capacity:
    """Seats as far ahead as a course that starts within the search may reach."""
    weeks = course_weeks(referral, sessions) + WEEKS_AHEAD
    return capacity_of(referral.patient.site, from_on, weeks)


def offers_for(referral: Referral, from_on: date, sessions: int, seen: Capacity) -> list[OfferLine]:
    """Starts for this person: sessions a week and days as wanted, against the 21-day target."""
    site = referral.patient.site
    offers = find_starts(
        [open_class(row) for row in seen.rows],
        from_on=from_on,
        target_on=referral.clock(site.today()).target_on,
        per_week=referral.wanted_per_week,
        weekdays=referral.weekdays,
        closed=set(seen.closed),
        weeks=course_weeks(referral, sessions),
    )
    slots = {row.slot.pk: row.slot for row in seen.rows}
    return [OfferLine(offer, [slots[key] for key in offer.classes]) for offer in offers]


def open_class(row: ClassRow) -> OpenClass:
    """A class as the start finder reads it: days without a free seat, and days it is not held."""
    full = frozenset(cell.on for cell in row.cells if cell.is_held and cell.free == 0)
    off = frozenset(cell.on for cell in row.cells if not cell.is_held)
    return OpenClass(row.slot.pk, row.slot.weekday, row.slot.starts_at, full, off)


def free_seats(site: Site, from_on: date) -> list[ClassRow]:
    """Every open class with the seats it keeps free over the coming twelve weeks."""
    return capacity_of(site, from_on).rows
