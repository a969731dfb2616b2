"""A day that falls away for everybody: one short transaction, and each keeps the record it had."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from patients.history import save_as, save_changed_as
from programs.enrolment.courses import services as courses
from programs.enrolment.models import ClassChange, PlannedSession
from programs.enrolment.timetable import services as timetable
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory
from tests.factories.staff import SiteFactory

pytestmark = pytest.mark.django_db


def class_in(site, days, **kwargs):
    return ClassSlotFactory(
        site=site, weekday=(site.today() + timedelta(days=days)).weekday(), **kwargs
    )


def booked(site, slots, weeks=2):
    """A course that began two weeks ago, with its coming sessions."""
    course = EnrolmentFactory(patient__site=site)
    course.slots.set(slots)
    today = site.today()
    for n in range(1, 7 * weeks + 1):
        day = today + timedelta(days=n)
        for slot in slots:
            if slot.weekday == day.weekday():
                PlannedSession.objects.create(enrolment=course, slot=slot, on=day)
    return course


def days_of(course):
    return list(course.planned.order_by("on").values_list("on", flat=True))


def test_queries_do_not_grow_with_the_people_of_the_day(clinician):
    used = {}
    for n in (6, 24):
        site = SiteFactory()
        slots = [class_in(site, 3, seats=30), class_in(site, 5, seats=30)]
        for _ in range(n):
            booked(site, slots)
        with CaptureQueriesContext(connection) as seen:
            moved = timetable.close_day(
                site, site.today() + timedelta(days=3), "holiday", by=clinician
            )
        assert (len(moved.moved), len(moved.without)) == (n, 0)
        used[n] = len(seen)
    assert used[24] <= used[6] + 1
    assert used[24] <= 48  # seven of them tell the totals of the courses and of their referrals


def test_giving_sessions_up_asks_no_more_for_many_than_for_few(site, clinician):
    used = {}
    for weeks in (2, 8):
        course = booked(site, [class_in(site, 3)], weeks)
        with CaptureQueriesContext(connection) as seen:
            courses.pause(course, site.today() + timedelta(days=1), "ill", by=clinician)
        used[weeks] = len(seen)
        assert not course.planned.exists()
        given_up = PlannedSession.history.filter(enrolment=course, history_type="-")
        assert {(v.history_user, v.history_change_reason) for v in given_up} == {
            (clinician, "paused: ill")
        }
        assert given_up.count() == weeks
    assert used[2] == used[8]


def test_each_course_keeps_a_version_with_who_why_and_its_classes(site, clinician):
    slots = [class_in(site, 3), class_in(site, 5)]
    rows = [booked(site, slots) for _ in range(3)]
    day = site.today() + timedelta(days=3)
    timetable.close_day(site, day, "holiday", by=clinician)
    for row in rows:
        before = row.version
        row.refresh_from_db()
        version = row.history.first()
        assert row.version == version.version == before + 1
        assert (version.history_type, version.history_user) == ("~", clinician)
        assert version.history_change_reason == "closed: holiday"
        assert version.planned_end_on == row.planned_end_on
        assert {link.classslot_id for link in version.slots.all()} == {s.pk for s in slots}
        given = PlannedSession.history.filter(enrolment=row).order_by("history_id")
        assert [(v.history_type, v.history_user, v.history_change_reason) for v in given][-2:] == [
            ("-", clinician, "closed: holiday"),
            ("+", clinician, "closed: holiday"),
        ]


def test_version_saved_together_is_the_version_saved_alone(site, clinician):
    alone, together = [booked(site, [class_in(site, 3), class_in(site, 5)]) for _ in range(2)]
    for course in (alone, together):
        course.planned_end_on += timedelta(days=1)
    save_as(alone, by=clinician, reason="moved")
    save_changed_as([together], ["planned_end_on"], by=clinician, reason="moved")

    def kept(course):
        version = course.history.first()
        own = {"patient", "referral", "id", "history_id", "history_date"}
        fields = [f for f in version._meta.concrete_fields if f.name not in own]
        links = version.slots.order_by("classslot__weekday")
        return (
            [getattr(version, f.attname) for f in fields],
            [(x.classslot.weekday, x.enrolment_id == course.pk, x.id is None) for x in links],
        )

    assert kept(alone) == kept(together)


def test_last_free_seat_goes_to_one_of_them(site, clinician):
    slot = class_in(site, 3, seats=2)
    two = [booked(site, [slot]) for _ in range(2)]
    later = booked(site, [slot], weeks=0)  # sits in the first class after the last planned one
    PlannedSession.objects.create(
        enrolment=later, slot=slot, on=site.today() + timedelta(days=3 + 14)
    )
    timetable.close_day(site, site.today() + timedelta(days=3), "snow", by=clinician)
    last = [days_of(course)[-1] - site.today() for course in two]
    assert [day.days for day in last] == [3 + 14, 3 + 21]


def test_two_sessions_of_one_day_become_two_others(site, clinician):
    early, late = class_in(site, 3, starts_at="08:00"), class_in(site, 3, starts_at="15:00")
    course = booked(site, [early, late])
    day = site.today() + timedelta(days=3)
    moved = timetable.close_day(site, day, "snow", by=clinician)
    assert [row.pk for row in moved.moved] == [course.pk, course.pk]
    assert days_of(course) == [day + timedelta(weeks=w) for w in (1, 1, 2, 2)]
    course.refresh_from_db()
    assert course.version == 2


def test_cancelled_class_moves_its_own_people_only(site, clinician):
    one, other = class_in(site, 3), class_in(site, 3)
    mine, theirs = booked(site, [one]), booked(site, [other])
    day = site.today() + timedelta(days=3)
    change = ClassChange(slot=one, on=day, is_cancelled=True, reason="staff away")
    moved = timetable.change_class(change, by=clinician)
    assert [row.pk for row in moved.moved] == [mine.pk]
    assert days_of(mine) == [day + timedelta(weeks=w) for w in (1, 2)]
    assert days_of(theirs)[0] == day
