"""One more session at the end of many courses at once, for a day that fell away."""

from collections import Counter
from collections.abc import Sequence
from datetime import date

from django.db.models import Count

from patients.history import save_new_as
from programs.enrolment.calc.calendar import NoRoomInCourse, Sitting, plan_sessions
from programs.enrolment.models import ClassChange, ClassSlot, Enrolment, PlannedSession
from programs.enrolment.seats import booking
from programs.staff.models import Site, User


def append_each(
    courses: Sequence[Enrolment], *, by: User, reason: str, from_on: date = date.min
) -> list[date | None]:
    """One more session after the last planned one of each, at the first class with a free seat.

    A course named twice gets two. None when its 36 weeks hold no such day; the course then is a
    session shorter. Nothing is booked before ``from_on``. The number of queries does not grow with
    the courses.

    Raises
    ------
    ValidationError : somebody would sit in two classes at the same hour.
    """
    free = _FreeSeats(courses, from_on)
    found = [free.take_after_last(course) for course in courses]
    given = [(c, s) for c, s in zip(courses, found, strict=True) if s is not None]
    wanted: dict[int, set[Sitting]] = {}
    for course, sitting in given:
        wanted.setdefault(course.patient_id, set()).add(sitting)
    booking.each_in_one_class(wanted)
    rows = [PlannedSession(enrolment=c, slot_id=key, on=day) for c, (day, key) in given]
    save_new_as(rows, by=by, reason=reason)
    for course, (day, _) in given:
        course.planned_end_on = max(course.planned_end_on, day)
    return [sitting and sitting[0] for sitting in found]


class _FreeSeats:
    """What is planned and free in the classes of some courses; the classes are held."""

    def __init__(self, courses: Sequence[Enrolment], from_on: date = date.min) -> None:
        self.from_on = from_on
        keys = {course.pk for course in courses}
        chosen = Enrolment.slots.through.objects.filter(enrolment__in=keys)
        pairs = list(chosen.values_list("enrolment", "classslot"))
        held = booking.lock(ClassSlot.objects.filter(pk__in={key for _, key in pairs}))
        by_key = {slot.pk: slot for slot in held}
        self.classes: dict[int, list[ClassSlot]] = {key: [] for key in keys}
        for course, key in pairs:
            self.classes[course].append(by_key[key])
        self.taken: dict[int, set[Sitting]] = {key: set() for key in keys}
        planned = PlannedSession.objects.filter(enrolment__in=keys).order_by()
        for course, day, key in planned.values_list("enrolment", "on", "slot"):
            self.taken[course].add((day, key))
        first = min((self._last(course) for course in courses), default=date.max)
        ahead = PlannedSession.objects.filter(slot__in=by_key, on__gte=first).order_by()
        counts = ahead.values_list("on", "slot").annotate(n=Count("pk"))
        self.booked = Counter({(day, key): n for day, key, n in counts})
        changes = ClassChange.objects.filter(slot__in=by_key, on__gte=first)
        seats = changes.values_list("on", "slot", "seats")
        self.special = {(day, key): n for day, key, n in seats if n is not None}
        self.sites: dict[int, tuple[set[date], set[Sitting]]] = {}

    def _last(self, course: Enrolment) -> date:
        last = max((day for day, _ in self.taken[course.pk]), default=course.starts_on)
        return max(last, self.from_on)

    def _not_held(self, site: Site) -> tuple[set[date], set[Sitting]]:
        if site.pk not in self.sites:
            self.sites[site.pk] = booking.closed_days(site), booking.cancelled_sittings(site)
        return self.sites[site.pk]

    def take_after_last(self, course: Enrolment) -> Sitting | None:
        """The first free seat from the last planned day on, taken; None when there is none."""
        slots, site = {s.pk: s for s in self.classes[course.pk]}, course.patient.site
        if any(slot.site_id != site.pk for slot in slots.values()):
            return None
        closed, cancelled = self._not_held(site)
        mine, last = self.taken[course.pk], self._last(course)
        weekly, full = [slot.weekly for slot in slots.values()], cancelled | mine
        # A make-up in another class may be at the same hour, or a second session of its day.
        elsewhere = {day for day, key in mine if key not in slots}
        full |= {(day, key) for day in elsewhere for key in slots}
        while True:
            try:
                ((day, key),) = plan_sessions(
                    last, weekly, closed, 1, course.starts_on, not_held=full
                )
            except NoRoomInCourse:
                return None
            if self.booked[day, key] < self.special.get((day, key), slots[key].seats):
                mine.add((day, key))
                self.booked[day, key] += 1
                return day, key
            full.add((day, key))
