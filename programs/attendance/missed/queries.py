"""A missed session: the next classes in which it can be made up, and what a course still lacks."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from typing import NamedTuple

from patients.calc.days import in_words, short_weekday
from patients.wall import clock
from programs.attendance.models import Visit
from programs.enrolment.calc.calendar import (
    COURSE_WEEKS,
    SESSIONS,
    Sitting,
    last_course_day,
)
from programs.enrolment.calc.make_up import Away, Held, Own, fitting, missing_sessions
from programs.enrolment.courses.make_ups import is_ahead, make_up_of
from programs.enrolment.models import ClassChange, ClassSlot, Enrolment, PlannedSession
from programs.enrolment.seats.booking import empty_seats
from programs.enrolment.seats.capacity import WEEKS_AHEAD, Capacity, capacity_of

State, Absence = Visit.State, Visit.Absence
OFFERED = 4  # the next class and a few beside it (project choice)
# A session of the last days may still be written up: it is not missing yet (project choice).
GRACE_DAYS = 7
RECORDED = frozenset({*Visit.ENDED, State.ABSENT})


class Standing(NamedTuple):
    """Sessions of a course: all of them, counted so far, and booked ahead."""

    planned: int
    counted: int
    booked: int

    @property
    def missing(self) -> int:
        return missing_sessions(*self)

    @property
    def to_go(self) -> int:
        return max(0, self.planned - self.counted)

    @property
    def spare(self) -> int:
        """Booked beyond what is to go."""
        return max(0, self.booked - self.to_go)


def still_booked(
    sittings: Iterable[Sitting], recorded: Collection[Sitting], from_on: date
) -> list[Sitting]:
    """Bookings from a day on of which nothing is recorded yet, neither held nor missed."""
    return [one for one in sittings if one[0] >= from_on and one not in recorded]


def standing_of(row: Enrolment, *, grace_days: int = GRACE_DAYS) -> Standing:
    """How a course stands today: two queries."""
    visits = row.visits.order_by().values_list(
        "on", "meeting__slot", "state", "counts_first", "counts_second"
    )
    seen = [((on, slot), state, first + second) for on, slot, state, first, second in visits]
    sittings = row.planned.order_by().values_list("on", "slot")
    return standing_from(row, sittings, seen, grace_days=grace_days)


def standing_from(
    row: Enrolment,
    sittings: Iterable[Sitting],
    visits: Iterable[tuple[Sitting, str, int]],
    *,
    grace_days: int = GRACE_DAYS,
) -> Standing:
    """How a course stands today, from its bookings and its visits: where, in which state, counted.

    A session of the last days of which nothing is recorded yet is taken for booked.
    """
    recorded, counted = set(), 0
    for sitting, state, n in visits:
        counted += n
        if state in RECORDED:
            recorded.add(sitting)
    from_on = row.patient.site.today() - timedelta(days=grace_days)
    booked = len(still_booked(sittings, recorded, from_on))
    return Standing(row.sessions_planned, counted, booked)


def lacks_of(row: Enrolment, standing: Standing) -> int:
    """Sessions to book now: none once a course has ended, or while it is paused."""
    is_going = row.is_open and not any(p.until_on is None for p in row.pauses.all())
    return standing.missing if is_going else 0


@dataclass(frozen=True)
class Offer:
    """A class in which a missed session can be made up."""

    on: date
    slot: ClassSlot
    starts_at: time
    n_empty: int  # of its free seats, how many are of people recorded absent
    n_free: int
    today: date

    @property
    def value(self) -> str:
        return f"{self.on.isoformat()}:{self.slot.pk}"

    @property
    def words(self) -> str:
        return f"{short_weekday(self.on, self.today)} {clock(self.starts_at)}"

    @property
    def seat_words(self) -> str:
        if self.n_empty >= self.n_free:
            return "in the seat of somebody absent"
        return f"{self.n_free} free"


@dataclass(frozen=True)
class Offered:
    """What can be done about a missed session."""

    missed: PlannedSession
    visit: Visit | None
    make_up: PlannedSession | None = None
    may_give_up: bool = False
    offers: list[Offer] = field(default_factory=list)
    why_none: str = ""
    caution: str = ""


def offered_for(missed: PlannedSession) -> Offered:
    """The next classes for somebody recorded absent. A dozen queries at most."""
    row, sitting = missed.enrolment, (missed.on, missed.slot_id)
    visit = row.visits.filter(meeting__slot=missed.slot_id, meeting__on=missed.on).first()
    make_up = make_up_of(row, sitting)
    if make_up is not None:
        return Offered(missed, visit, make_up, may_give_up=is_ahead(row, make_up))
    why_none = why_no_make_up(row, visit)
    if why_none:
        return Offered(missed, visit, why_none=why_none)
    offers = _offers(row)
    caution = ""
    if visit is not None and visit.absence == Absence.HOSPITAL:
        caution = "In hospital: book when it is known that exercise may go on."
    elif visit is not None and visit.absence == Absence.ILL and offers:
        caution = "Ill: ask how they are when they come back."
    if not offers:
        why_none = f"No free seat fits within {WEEKS_AHEAD} weeks and the span of the course."
    return Offered(missed, visit, offers=offers, why_none=why_none, caution=caution)


def why_no_make_up(row: Enrolment, visit: Visit | None) -> str:
    """Why nothing is offered; empty when something may be."""
    if visit is None or visit.state != State.ABSENT:
        return "Nobody is recorded absent from this session any more."
    if not row.is_open:
        return f"The course ended on {in_words(row.closed_on or row.planned_end_on)}."
    today = row.patient.site.today()
    if row.pauses.filter(until_on=None, from_on__lte=today).exists():
        return "The course is paused; what is left is booked when it resumes."
    standing = standing_of(row, grace_days=0)
    if standing.to_go == 0:
        return f"All {standing.planned} sessions of the course are used."
    if standing.missing == 0:
        return f"{standing.booked} sessions are booked and {standing.to_go} are to go."
    if today > last_day_of(row):
        return f"The {COURSE_WEEKS} weeks of the course are over."
    return ""


def last_day_of(row: Enrolment) -> date:
    """The last day of a course; more than 36 sessions are approved for longer."""
    return last_course_day(row.starts_on) if row.sessions_planned <= SESSIONS else date.max


def _offers(row: Enrolment) -> list[Offer]:
    site = row.patient.site
    now = site.now()
    today = now.date()
    seen = capacity_of(site, today, WEEKS_AHEAD)
    classes, slots, empty = _held(seen, now.time())
    own, pauses = (
        _own(row, today),
        [Away(pause.from_on, pause.until_on) for pause in row.pauses.all()],
    )
    found = fitting(classes, own, pauses, first_on=today, last_on=last_day_of(row), most=OFFERED)
    return [
        Offer(one.on, slots[one.key], one.starts_at, empty.get((one.on, one.key), 0), one.free,
              today)
        for one in found
    ]  # fmt: skip


def _held(seen: Capacity, now: time) -> tuple[list[Held], dict[int, ClassSlot], dict[Sitting, int]]:
    """Classes that have not begun, with the seats a make-up may take."""
    slots = {row.slot.pk: row.slot for row in seen.rows}
    today = seen.site.today()
    last = seen.weeks[-1] + timedelta(days=6)
    empty = empty_seats(slots.values(), (today, last))
    classes = []
    for row in seen.rows:
        for cell in row.cells:
            if not cell.is_held:
                continue
            at = (cell.change and cell.change.starts_at) or row.slot.starts_at
            if cell.on == today and at <= now:
                continue
            free = cell.seats - cell.n_booked + empty[cell.on, row.slot.pk]
            classes.append(Held(cell.on, row.slot.pk, at, row.slot.minutes, free))
    return classes, slots, empty


def _own(row: Enrolment, today: date) -> list[Own]:
    """What the person has from today on, at the hours of those days."""
    away = row.visits.filter(on__gte=today, state=State.ABSENT).order_by()
    missed = set(away.values_list("on", "meeting__slot"))
    ahead = row.planned.filter(on__gte=today).select_related("slot").order_by("on")
    sessions = list(ahead)
    slots = {one.slot_id for one in sessions}
    moved = ClassChange.objects.filter(slot__in=slots, on__gte=today, starts_at__isnull=False)
    hours = {(on, key): at for on, key, at in moved.values_list("on", "slot", "starts_at") if at}
    return [
        Own(
            one.on,
            one.slot_id,
            hours.get((one.on, one.slot_id), one.slot.starts_at),
            one.slot.minutes,
            is_missed=(one.on, one.slot_id) in missed,
        )
        for one in sessions
    ]


def missed_without_make_up(row: Enrolment) -> Sitting | None:
    """The latest session recorded as missed that nothing stands for yet."""
    made_up = set(
        row.planned.filter(makes_up_on__isnull=False).values_list("makes_up_on", "makes_up_slot")
    )
    absent = row.visits.filter(state=State.ABSENT).order_by("-on", "-pk")
    for one in absent.values_list("on", "meeting__slot"):
        if one not in made_up:
            return one
    return None
