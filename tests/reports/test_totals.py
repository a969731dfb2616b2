"""What the completion report reads from stored visits."""

from datetime import timedelta

import pytest

from reports import queries
from tests.factories.assessments import AssessmentFactory
from tests.factories.attendance import ClassMeetingFactory, VisitFactory

pytestmark = pytest.mark.django_db


def attend(course, day, **flags):
    on = course.starts_on + timedelta(days=day)
    meeting = ClassMeetingFactory(slot__site=course.patient.site, on=on)
    given = {"state": "finished", "minutes": 60, "counts_first": True, "arrived_at": None}
    return VisitFactory(enrolment=course, meeting=meeting, **(given | flags))


def facts(course):
    today = course.patient.site.today()
    span = (today - timedelta(days=400), today)
    (found,) = queries.course_facts([course.patient.site_id], *span)
    return found


def test_sessions_are_counted_from_both_flags(course):
    attend(course, 0)
    attend(course, 2, counts_second=True, minutes=95)
    attend(course, 4)
    attend(course, 4, counts_first=False, counts_second=True)
    attend(course, 5, counts_first=False, minutes=20)
    assert facts(course).sessions == 5


def test_sessions_after_36_weeks_are_told_apart(course):
    for day in (0, 251, 252, 260):  # the course's last day is its 252nd
        attend(course, day)
    found = facts(course)
    assert (found.sessions, found.sessions_in_36_weeks) == (4, 2)


def test_start_is_the_first_counted_session(course):
    attend(course, 3)
    expected = course.starts_on + timedelta(days=3) - course.referral.discharged_on
    assert facts(course).days_to_start == expected.days


def test_nothing_counted_has_no_start(course):
    found = facts(course)
    assert (found.has_started, found.days_to_start, found.has_ended) == (False, None, False)


def test_only_a_performed_exit_assessment_counts(course):
    AssessmentFactory(enrolment=course, kind="exit", performed_on=None)
    assert not facts(course).has_exit_assessment
    course.assessments.update(performed_on=course.starts_on)
    assert facts(course).has_exit_assessment
