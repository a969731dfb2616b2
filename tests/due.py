"""What a stored course asks for next, as pages find it."""

from assessments.calc.schedule import Record, due_next
from assessments.queries_schedule import course_of
from programs.enrolment.models import Enrolment


def due_on(course, day):
    """The next assessment of a course as of a day, None when nothing is due."""
    fresh = Enrolment.objects.select_related("patient__site__assessment_policy").get(pk=course.pk)
    records = tuple(Record(*row) for row in fresh.assessments.values_list(*Record._fields))
    return due_next(course_of(fresh), records, day)
