"""A course in its fifth week, on a fixed Monday of a site in New York."""

from datetime import UTC, date, datetime, timedelta

from programs.attendance.models import ClassMeeting
from programs.attendance.visit.services import mark_absent
from programs.enrolment.courses import services as enrolments
from tests.factories.attendance import VisitFactory
from tests.factories.enrolment import ReferralFactory

START, MONDAY = date(2026, 11, 2), date(2026, 11, 30)
WED, FRI = MONDAY + timedelta(days=2), MONDAY + timedelta(days=4)


def at(day, hour=10):
    """A moment of the site, five hours behind UTC from November to March."""
    return datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(hours=hour + 5)


def enrolled(site, slots, by, sessions=36):
    referral = ReferralFactory(patient__site=site, confirmed=True)
    return enrolments.enrol(referral, slots, START, sessions, by=by)


def came(course, until):
    """Everything behind was held and counts."""
    for planned in course.planned.filter(on__lt=until):
        meeting, _ = ClassMeeting.objects.get_or_create(slot=planned.slot, on=planned.on)
        VisitFactory(enrolment=course, meeting=meeting, finished=True)


def missed(course, on=MONDAY, by=None, absence="unknown"):
    planned = course.planned.select_related("slot__site", "enrolment__patient__site").get(on=on)
    mark_absent(planned, absence, by=by)
    return planned
