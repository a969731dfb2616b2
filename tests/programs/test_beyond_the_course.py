"""Sessions beyond 36, days past the 36 weeks, and two classes at the same hour.

Medicare Benefit Policy Manual ch. 15 s. 232: 36 sessions over up to 36 weeks, more only with the
contractor's approval (A-15). Day 252 is the last, the first session being day 1 (A-20, from
memory).
"""

from datetime import date, time, timedelta

import pytest
from django.core.exceptions import ValidationError

from programs.attendance.meeting.services import add_somebody
from programs.attendance.today.queries import day_of
from programs.enrolment.calc.calendar import beyond_course, overlaps
from programs.enrolment.models import ClassSlot, Enrolment
from tests.factories.attendance import VisitFactory
from tests.factories.enrolment import ClassChangeFactory, ClassSlotFactory, PlannedSessionFactory

START = date(2026, 1, 5)


@pytest.mark.parametrize(
    ("number", "after_days", "planned", "words"),
    [
        (36, 251, 36, ""),
        (37, 10, 36, "session 37, beyond 36: needs the payer’s approval"),
        (36, 252, 36, "after the 36 weeks: needs the payer’s approval"),
        (37, 10, 40, ""),
        (41, 10, 40, "session 41, beyond 40: needs the payer’s approval"),
        (25, 10, 24, ""),  # a shorter plan needs no approval up to 36
        (36, 252, 40, ""),
    ],
)
def test_beyond_the_course_is_said(number, after_days, planned, words):
    on = START + timedelta(days=after_days)
    assert beyond_course(number, on, START, planned) == words


@pytest.mark.parametrize(
    ("second", "is_over"),
    [(time(9), True), (time(9, 59), True), (time(10), False), (time(8), False)],
)
def test_classes_overlap_when_they_share_a_minute(second, is_over):
    assert overlaps(time(9), 60, second, 60) is is_over


def counted(course, n, on):
    """Sessions of earlier days."""
    for k in range(n):
        VisitFactory(
            enrolment=course, finished=True, meeting__slot__site=course.patient.site,
            meeting__on=on - timedelta(days=k + 1),
        )  # fmt: skip


def row_of(planned):
    day = day_of(planned.slot.site, planned.on, planned.slot_id)
    return next(row for row in day.rows if row.planned.pk == planned.pk)


@pytest.mark.django_db
@pytest.mark.parametrize(("n", "is_beyond"), [(35, False), (36, True)])
def test_row_of_the_37th_session_warns(planned, n, is_beyond):
    counted(planned.enrolment, n, planned.on)
    row = row_of(planned)
    said = "session 37, beyond 36: needs the payer’s approval" in row.warnings
    assert said is is_beyond
    assert ("0 of" in row.left_words) is False
    assert ("All 36 sessions are used: 36 counted" in row.left_words) is is_beyond


@pytest.mark.django_db
@pytest.mark.parametrize(("days", "is_beyond"), [(251, False), (252, True)])
def test_row_of_the_day_after_the_36_weeks_warns(planned, days, is_beyond):
    Enrolment.objects.update(starts_on=planned.on - timedelta(days=days), planned_end_on=planned.on)
    warnings = row_of(planned).warnings
    assert ("after the 36 weeks: needs the payer’s approval" in warnings) is is_beyond


@pytest.fixture
def extra(course, site):
    return ClassSlotFactory(site=site, starts_at=time(20))


@pytest.mark.django_db
def test_booking_the_37th_asks_for_the_approval_and_keeps_it(course, extra, site, nurse):
    on = site.today()
    counted(course, 36, on)
    with pytest.raises(ValidationError, match="Session 37, beyond 36"):
        add_somebody(course, extra, on, by=nurse)
    add_somebody(course, extra, on, approval="Ms Reed at the payer, 3 Nov", by=nurse)
    course.refresh_from_db()
    assert (course.sessions_planned, course.extension_reason) == (37, "Ms Reed at the payer, 3 Nov")


@pytest.mark.django_db
def test_a_missed_session_is_made_up_without_an_approval(course, extra, site, nurse):
    on = site.today()
    counted(course, 34, on)
    PlannedSessionFactory(
        enrolment=course, slot=ClassSlotFactory(site=site), on=on + timedelta(days=7)
    )
    assert add_somebody(course, extra, on, by=nurse).pk
    with pytest.raises(ValidationError, match="beyond 36"):
        add_somebody(course, ClassSlotFactory(site=site, starts_at=time(22)), on, by=nurse)


@pytest.mark.django_db
def test_booking_past_the_36_weeks_asks_for_the_approval(course, extra, site, nurse):
    on = site.today()
    Enrolment.objects.update(starts_on=on - timedelta(days=252), planned_end_on=on)
    course.refresh_from_db()
    with pytest.raises(ValidationError, match="After the 36 weeks"):
        add_somebody(course, extra, on, by=nurse)


@pytest.mark.django_db
def test_nobody_is_in_two_classes_at_the_same_hour(planned, site, nurse):
    hour = planned.slot.starts_at
    later = time(hour.hour, hour.minute + 20) if hour.minute < 40 else time(hour.hour + 1)
    with pytest.raises(ValidationError, match="Two classes at the same hour"):
        add_somebody(
            planned.enrolment, ClassSlotFactory(site=site, starts_at=later), planned.on, by=nurse
        )


@pytest.mark.django_db
def test_the_hour_of_the_day_decides(planned, site, nurse):
    """The planned class begins at one today; the make-up lies at its usual hour."""
    ClassSlot.objects.filter(pk=planned.slot_id).update(starts_at=time(9))
    ClassChangeFactory(slot=planned.slot, on=planned.on, starts_at=time(13), is_cancelled=False)
    busy = ClassSlotFactory(site=site, starts_at=time(13, 30))
    with pytest.raises(ValidationError, match="13:00 and 13:30"):
        add_somebody(planned.enrolment, busy, planned.on, by=nurse)
    free = ClassSlotFactory(site=site, starts_at=time(9, 1))
    assert add_somebody(planned.enrolment, free, planned.on, by=nurse).pk
