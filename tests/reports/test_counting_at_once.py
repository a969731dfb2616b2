"""Somebody corrects what is just being counted, on a connection of their own."""

import threading

import pytest
from django.db import connection, transaction

from programs.attendance.models import Visit
from programs.enrolment.models import DayTotals, Enrolment, ReferralTotals
from reports import counting, day_totals
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory
from tests.reports.test_counting import asked, came

pytestmark = pytest.mark.django_db(transaction=True)


class Elsewhere:
    """Work on another connection that says when it is in the midst, and goes on when told."""

    def __init__(self, work):
        self.midst, self.go_on, self.failed = threading.Event(), threading.Event(), []
        self.thread = threading.Thread(target=self._run, args=(work,))

    def _run(self, work):
        try:
            work(self)
        except Exception as error:
            self.failed.append(error)
        finally:
            self.midst.set()
            connection.close()

    def pause(self):
        self.midst.set()
        self.go_on.wait(10)

    def __enter__(self):
        self.thread.start()
        assert self.midst.wait(10)
        threading.Timer(0.3, self.go_on.set).start()
        return self

    def __exit__(self, *error):
        self.go_on.set()
        self.thread.join()
        assert not self.failed


@pytest.fixture
def visit(course):
    ClassSlotFactory(site=course.patient.site)
    return came(course, course.starts_on)


def set_minutes(pk, minutes):
    row = Visit.objects.select_related("meeting__slot").get(pk=pk)
    row.minutes = minutes
    row.save()


def test_a_correction_not_yet_stored_is_waited_for(visit):
    def correct(elsewhere):
        with transaction.atomic():
            set_minutes(visit.pk, 45)
            elsewhere.pause()

    with Elsewhere(correct):
        assert asked(visit.enrolment)["minutes"] == 45
    assert not list(day_totals.differences())


def test_a_correction_while_a_day_is_counted_takes_it_away_again(visit, monkeypatch):
    slow = day_totals.worked_out

    def count(elsewhere):
        def worked_out(*args):
            found = slow(*args)
            if not elsewhere.midst.is_set():
                elsewhere.pause()
            return found

        monkeypatch.setattr(day_totals, "worked_out", worked_out)
        # Once: a figure asks again until all its days are there.
        day_totals.keep([visit.enrolment.patient.site_id], visit.on, visit.on)

    with Elsewhere(count):
        set_minutes(visit.pk, 45)
    assert not DayTotals.objects.filter(on=visit.on).exists()
    assert asked(visit.enrolment)["minutes"] == 45
    assert not list(day_totals.differences())


def test_a_course_is_not_counted_while_it_is_written():
    course = EnrolmentFactory()

    def close(elsewhere):
        with transaction.atomic():
            row = Enrolment.objects.get(pk=course.pk)
            row.closed_on, row.outcome = row.starts_on, "moved"
            row.save()
            elsewhere.pause()

    with Elsewhere(close):
        counting.count(ReferralTotals.objects.all())
    assert not list(counting.differences())
    assert ReferralTotals.objects.get(pk=course.referral_id).is_counted
    assert ReferralTotals.objects.get(pk=course.referral_id).six_weeks_on is None


def test_a_course_changed_while_it_is_counted_is_counted_again(monkeypatch):
    course, slow = EnrolmentFactory(), counting.worked_out

    def count(elsewhere):
        def worked_out(keys):
            found = slow(keys)
            elsewhere.pause()
            return found

        monkeypatch.setattr(counting, "worked_out", worked_out)
        counting._count([course.referral_id])  # once: ``count`` goes on until none is left

    with Elsewhere(count):
        row = Enrolment.objects.get(pk=course.pk)
        row.closed_on, row.outcome = row.starts_on, "moved"
        row.save()
    monkeypatch.setattr(counting, "worked_out", slow)
    assert not ReferralTotals.objects.get(pk=course.referral_id).is_counted
    assert not list(counting.differences())
    counting.count(ReferralTotals.objects.all())
    assert ReferralTotals.objects.get(pk=course.referral_id).six_weeks_on is None
