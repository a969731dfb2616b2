"""A dose signed up to more, and the week of sessions after which a step is proposed."""

from datetime import timedelta

from django.utils import timezone

from tests.factories.attendance import BoutFactory, ClassMeetingFactory, VisitFactory
from tests.factories.enrolment import ClassSlotFactory
from tests.factories.prescription import PrescriptionFactory


def an_easy_week(course, physician, days=(5, 3), **dose):
    """The dose in force; sessions so many days ago, the earliest first."""
    today = course.patient.site.today()
    usual = {"target_mets": 3.0, "most_minutes": 40, "most_mets": 4.0, "rpe_low": 12}
    found = PrescriptionFactory(
        enrolment=course,
        valid_from=today - timedelta(days=10),
        signed_by=physician,
        signed_at=timezone.now() - timedelta(days=10),
        **usual | dose,
    )
    for n in days:
        on = today - timedelta(days=n)
        slot = ClassSlotFactory(site=course.patient.site, weekday=on.weekday())
        meeting = ClassMeetingFactory(slot=slot, on=on)
        visit = VisitFactory(enrolment=course, meeting=meeting, finished=True)
        BoutFactory(visit=visit, minutes=found.minutes, rpe=12, heart_rate_bpm=104)
    return found
