"""Seats: which days a course takes, whether they are free, and giving them up again.

Re-planning touches the days after today only; what lies behind, and today, stays as it was.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from itertools import combinations

from django.core.exceptions import ValidationError
from django.db.models import Count
from simple_history.utils import bulk_create_with_history

from patients.calc.days import in_words
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


def seats_or_refuse(slots: Sequence[ClassSlot], sittings: Sequence[Sitting]) -> None:
    """Raise ValidationError, naming class and first day, when a seat is missing."""
    if not sittings:
        return
    days = [day for day, _ in sittings]
    span = (min(days), max(days))
    booked = PlannedSession.objects.filter(slot__in=slots, on__range=span).order_by()
    taken = {
        (row["on"], row["slot"]): row["n"]
        for row in booked.values("slot", "on").annotate(n=Count("pk"))
    }
    changes = ClassChange.objects.filter(slot__in=slots, on__range=span, seats__isnull=False)
    special = {(change.on, change.slot_id): change.seats for change in changes}
    by_key = {slot.pk: slot for slot in slots}
    full = [
        (day, by_key[key])
        for day, key in sittings
        if taken.get((day, key), 0) >= special.get((day, key), by_key[key].seats)
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
    wanted = set(sittings)
    days = {day for day, _ in wanted}
    mine = PlannedSession.objects.filter(enrolment__patient=enrolment.patient_id, on__in=days)
    planned = set(mine.values_list("on", "slot")) if enrolment.patient_id else set()
    slots = ClassSlot.objects.in_bulk({key for _, key in wanted | planned})
    moved = ClassChange.objects.filter(slot__in=slots, on__in=days, starts_at__isnull=False)
    hours = {(c.on, c.slot_id): c.starts_at for c in moved if c.starts_at is not None}
    by_day: dict[date, list[ClassSlot]] = {}
    for day, key in sorted(wanted | planned):
        by_day.setdefault(day, []).append(slots[key])
    for day, here in by_day.items():
        for first, second in combinations(here, 2):
            one = hours.get((day, first.pk), first.starts_at)
            two = hours.get((day, second.pk), second.starts_at)
            if overlaps(one, first.minutes, two, second.minutes):
                raise ValidationError(
                    f"Two classes at the same hour on {in_words(day)}: "
                    f"{one:%H:%M} and {two:%H:%M}. Choose one of them."
                )


def book(enrolment: Enrolment, sittings: Sequence[Sitting], *, by: User, reason: str) -> None:
    """Book seats; raises ValidationError for two classes at the same hour."""
    one_class_at_a_time(enrolment, sittings)
    bulk_create_with_history(
        [PlannedSession(enrolment=enrolment, slot_id=key, on=day) for day, key in sittings],
        PlannedSession,
        default_user=by,
        default_change_reason=reason,
    )


def give_up(booked: Iterable[PlannedSession], *, by: User, reason: str) -> None:
    """Free seats; each booking's history keeps who gave it up and why."""
    for row in booked:
        row._history_user = by  # type: ignore[attr-defined]
        row._change_reason = reason[:100]  # type: ignore[attr-defined]
        row.delete()


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


def append_one(enrolment: Enrolment, *, by: User, reason: str) -> date | None:
    """One more session after the last planned one, at the first class with a free seat.

    None when the 36 weeks hold no such day; the course then is a session shorter.
    """
    slots = lock(enrolment.slots.all())
    if not slots:
        return None
    taken = set(enrolment.planned.values_list("on", "slot"))
    last = max((day for day, _ in taken), default=enrolment.starts_on)
    full: set[Sitting] = set(taken)
    while True:
        try:
            (sitting,) = plan(
                enrolment.patient.site, slots, last, 1, enrolment.starts_on, taken=full
            )
        except ValidationError:
            return None
        try:
            seats_or_refuse(slots, [sitting])
        except ValidationError:
            full.add(sitting)
            continue
        book(enrolment, [sitting], by=by, reason=reason)
        enrolment.planned_end_on = max(enrolment.planned_end_on, sitting[0])
        return sitting[0]


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
