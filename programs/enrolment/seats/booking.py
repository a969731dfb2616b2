"""Seats: which days a course takes, whether they are free, and giving them up again.

Re-planning touches the days after today only; what lies behind, and today, stays as it was.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date, time
from itertools import combinations

from django.core.exceptions import ValidationError
from django.db.models import Count, F

from patients.calc.days import in_words
from patients.history import delete_as, save_new_as
from patients.wall import clock
from programs.enrolment.calc.calendar import (
    COUNTED_A_DAY,
    COURSE_WEEKS,
    NoRoomInCourse,
    Sitting,
    last_course_day,
    overlaps,
    plan_sessions,
)
from programs.enrolment.models import ClassChange, ClassSlot, Closure, Enrolment, PlannedSession
from programs.staff.models import Site, User


def closed_days(site: Site) -> set[date]:
    return set(Closure.objects.in_force().filter(site=site).values_list("on", flat=True))


def cancelled_sittings(site: Site) -> set[Sitting]:
    """Single classes that are not held."""
    changes = ClassChange.objects.filter(slot__site=site, is_cancelled=True)
    return set(changes.values_list("on", "slot"))


def lock(slots: Iterable[ClassSlot]) -> list[ClassSlot]:
    """Whoever books a seat holds the class; of two people after the last seat one waits."""
    keys = [slot.pk for slot in slots]
    return list(ClassSlot.objects.select_for_update().filter(pk__in=keys).order_by("pk"))


def plan(
    site: Site,
    slots: Sequence[ClassSlot],
    start_on: date,
    sessions: int,
    course_from: date | None = None,
    taken: Iterable[Sitting] = (),
) -> list[Sitting]:
    """Days for a number of sessions around closures, cancelled classes and days already taken."""
    if any(slot.site_id != site.pk for slot in slots):
        raise ValidationError(f"Choose classes held at {site}.")
    weekly = [slot.weekly for slot in slots]
    not_held = cancelled_sittings(site) | set(taken)
    try:
        return plan_sessions(
            start_on, weekly, closed_days(site), sessions, course_from, not_held=not_held
        )
    except NoRoomInCourse as error:
        raise ValidationError(str(error)) from error


def empty_seats(slots: Iterable[ClassSlot], span: tuple[date, date]) -> Counter[Sitting]:
    """Seats booked by people recorded absent, by day and class, over a span of days.

    They are free for a make-up on that day alone. Visits belong to a room further right; only the
    database relation is followed, not its code.
    """
    visit = "enrolment__visits__"
    absent = PlannedSession.objects.filter(
        slot__in=slots,
        on__range=span,
        **{
            f"{visit}meeting__slot": F("slot"),
            f"{visit}meeting__on": F("on"),
            f"{visit}state": "absent",
        },
    )
    counts = absent.order_by().values_list("on", "slot").annotate(n=Count("pk"))
    return Counter({(day, key): n for day, key, n in counts})


def seats_or_refuse(
    slots: Sequence[ClassSlot], sittings: Sequence[Sitting], *, takes_empty: bool = False
) -> None:
    """Raise ValidationError, naming class and first day, when a seat is missing.

    ``takes_empty``: a make-up sits in the seat of somebody absent, too.
    """
    if not sittings:
        return
    days = [day for day, _ in sittings]
    span = (min(days), max(days))
    booked = PlannedSession.objects.filter(slot__in=slots, on__range=span).order_by()
    taken = {
        (row["on"], row["slot"]): row["n"]
        for row in booked.values("slot", "on").annotate(n=Count("pk"))
    }
    empty = empty_seats(slots, span) if takes_empty else Counter()
    changes = ClassChange.objects.filter(slot__in=slots, on__range=span, seats__isnull=False)
    special = {(change.on, change.slot_id): change.seats for change in changes}
    by_key = {slot.pk: slot for slot in slots}
    full = [
        (day, by_key[key])
        for day, key in sittings
        if taken.get((day, key), 0) - empty[day, key] >= special.get((day, key), by_key[key].seats)
    ]
    if full:
        count = Counter(slot for _, slot in full)
        words = "; ".join(f"{slot} is full on {n} of the days" for slot, n in count.items())
        raise ValidationError(
            f"{words}, first on {in_words(min(day for day, _ in full))}. "
            "Choose other classes or a later start."
        )


def one_class_at_a_time(enrolment: Enrolment, sittings: Iterable[Sitting]) -> None:
    """Raise ValidationError when somebody would sit in two classes at the same hour."""
    each_in_one_class({enrolment.patient_id: set(sittings)})


def each_in_one_class(wanted: Mapping[int, Collection[Sitting]]) -> None:
    """``one_class_at_a_time`` of many, by the patients' keys. Three queries."""
    days = {day for sittings in wanted.values() for day, _ in sittings}
    booked = PlannedSession.objects.filter(enrolment__patient__in=wanted, on__in=days)
    theirs: dict[int, set[Sitting]] = {patient: set(wanted[patient]) for patient in wanted}
    for patient, day, key in booked.values_list("enrolment__patient", "on", "slot"):
        theirs[patient].add((day, key))
    keys = {key for sittings in theirs.values() for _, key in sittings}
    slots = ClassSlot.objects.in_bulk(keys)
    moved = ClassChange.objects.filter(slot__in=slots, on__in=days, starts_at__isnull=False)
    hours = {(c.on, c.slot_id): c.starts_at for c in moved if c.starts_at is not None}
    for patient, sittings in theirs.items():
        here = [(day, slots[key]) for day, key in sorted(sittings)]
        _refuse_same_hour(here, {day for day, _ in wanted[patient]}, hours)


def _refuse_same_hour(
    sittings: Sequence[tuple[date, ClassSlot]],
    days: Collection[date],
    hours: Mapping[Sitting, time],
) -> None:
    for (day, first), (other, second) in combinations(sittings, 2):
        one = hours.get((day, first.pk), first.starts_at)
        two = hours.get((other, second.pk), second.starts_at)
        if day == other in days and overlaps(one, first.minutes, two, second.minutes):
            raise ValidationError(
                f"Two classes at the same hour on {in_words(day)}: "
                f"{clock(one)} and {clock(two)}. Choose one of them."
            )


def book(enrolment: Enrolment, sittings: Sequence[Sitting], *, by: User, reason: str) -> None:
    """Book seats; raises ValidationError for two classes at the same hour."""
    one_class_at_a_time(enrolment, sittings)
    save_new_as(
        [PlannedSession(enrolment=enrolment, slot_id=key, on=day) for day, key in sittings],
        by=by,
        reason=reason,
    )


def give_up(booked: Iterable[PlannedSession], *, by: User, reason: str) -> None:
    """Free seats; each booking's history keeps who gave it up and why."""
    delete_as(list(booked), by=by, reason=reason)


def give_up_after(enrolment: Enrolment, day: date, *, by: User, reason: str) -> None:
    """Give up what is planned after a day; never today's or earlier ones, which may be used."""
    today = enrolment.patient.site.today()
    give_up(enrolment.planned.filter(on__gt=max(day, today)), by=by, reason=reason)


def plan_rest(enrolment: Enrolment, on: date, *, by: User, reason: str) -> None:
    """Book what is left of a course from a day on, inside its 36 weeks and the free seats.

    Left are the course's sessions less those still planned: the held, the missed, and any extra.
    """
    kept = set(enrolment.planned.values_list("on", "slot"))
    left = enrolment.sessions_planned - len(kept)
    if left > 0:
        slots = lock(enrolment.slots.all())
        site, start = enrolment.patient.site, enrolment.starts_on
        sittings = plan(site, slots, on, left, course_from=start, taken=kept)
        seats_or_refuse(slots, sittings)
        book(enrolment, sittings, by=by, reason=reason)
        kept.update(sittings)
    if kept:
        enrolment.planned_end_on = max(day for day, _ in kept)


def replan(enrolment: Enrolment, from_on: date, *, by: User, reason: str) -> None:
    """Give up everything planned after today and from a day on, and plan it anew from there."""
    today = enrolment.patient.site.today()
    ahead = enrolment.planned.filter(on__gt=today, on__gte=from_on)
    give_up(ahead, by=by, reason=reason)
    plan_rest(enrolment, from_on, by=by, reason=reason)


def day_has_room(enrolment: Enrolment, on: date) -> None:
    """Raise ValidationError when the person already has two sessions on a day."""
    if enrolment.planned.filter(on=on).count() >= COUNTED_A_DAY:
        raise ValidationError(f"{COUNTED_A_DAY} sessions are already planned on {in_words(on)}.")


def inside_course(enrolment: Enrolment, on: date) -> None:
    """Raise ValidationError for a day past the course's 36 weeks."""
    last = last_course_day(enrolment.starts_on)
    if on > last:
        raise ValidationError(f"The {COURSE_WEEKS} weeks of this course end on {in_words(last)}.")


def held_or_refuse(slot: ClassSlot, on: date) -> None:
    """Raise ValidationError unless this class is held on this day."""
    if on.weekday() != slot.weekday:
        raise ValidationError(f"{slot} is not held on {on:%A}.")
    if Closure.objects.in_force().filter(site=slot.site_id, on=on).exists():
        raise ValidationError(f"{slot.site} is closed on {in_words(on)}.")
    if ClassChange.objects.filter(slot=slot, on=on, is_cancelled=True).exists():
        raise ValidationError(f"{slot} is cancelled on {in_words(on)}.")
