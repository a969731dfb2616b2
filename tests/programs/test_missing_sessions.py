"""A course with fewer bookings than sessions to go says so, and books them with one press.

Up to 36 sessions over up to 36 weeks: 42 CFR 410.49(f). The rest is common practice, no source.
"""

from datetime import date, time, timedelta

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.urls import reverse

from patients.submissions import AlreadyTaken, new_key
from programs.attendance.missed import services
from programs.attendance.missed.due import short_at
from programs.attendance.missed.queries import standing_of
from programs.attendance.models import ClassMeeting
from programs.attendance.visit.services import mark_absent
from programs.enrolment.courses import services as enrolments
from programs.enrolment.models import PlannedSession
from programs.enrolment.timetable import services as timetable
from reports.worklists import due_for
from tests.factories.attendance import VisitFactory
from tests.factories.enrolment import ClassSlotFactory
from tests.factories.staff import SiteFactory
from tests.missed import FRI, MONDAY, START, WED, at, came, enrolled, missed

pytestmark = pytest.mark.django_db


def short_of(course):
    """As Due lists it; the same as the course says of itself."""
    found = {one.enrolment: one for one in short_at([course.patient.site])}.get(course.pk)
    assert (found.missing if found else 0) == standing_of(course).missing
    return found


def test_nothing_is_missing_of_a_course_that_goes_as_planned(going):
    assert short_of(going) is None


def test_missed_sessions_are_missing_and_one_press_books_them_at_the_end(going, nurse, clinician):
    ends = going.planned_end_on  # a Friday
    missed(going, by=nurse)
    missed(going, WED, by=nurse)
    found = short_of(going)
    assert (found.missing, found.to_go, found.booked, found.last_on) == (2, 24, 22, ends)
    key = new_key()
    done = services.book_missing(going, key=key, by=clinician)
    monday = ends + timedelta(days=3)
    assert [one.on for one in done.sessions] == [monday, monday + timedelta(days=2)]
    assert done.n_without == 0
    assert short_of(going) is None
    going.refresh_from_db()
    assert going.planned_end_on == monday + timedelta(days=2)
    with pytest.raises(AlreadyTaken):
        services.book_missing(going, key=key, by=clinician)
    with pytest.raises(ValidationError, match="Nothing is missing"):
        services.book_missing(going, key=new_key(), by=clinician)
    assert going.planned.count() == 38
    assert "missing sessions booked: 2" in going.history.first().history_change_reason


def test_what_one_press_booked_is_given_up_by_another(going, nurse, clinician, clock):
    ends = going.planned_end_on
    missed(going, by=nurse)
    missed(going, WED, by=nurse)
    kept = going.planned.values_list("pk", flat=True)
    before = set(kept)
    keys = [one.pk for one in services.book_missing(going, by=clinician).sessions]
    stranger = next(iter(before))
    assert services.take_missing_back(going, [*keys, stranger], by=clinician) == (2, 0)
    assert set(kept.all()) == before
    going.refresh_from_db()
    assert going.planned_end_on == ends
    assert short_of(going).missing == 2
    first, _ = [one.pk for one in services.book_missing(going, by=clinician).sessions]
    booked = PlannedSession.objects.select_related("slot").get(pk=first)
    clock.move_to(at(booked.on))
    meeting = ClassMeeting.objects.create(slot=booked.slot, on=booked.on)
    VisitFactory(enrolment=going, meeting=meeting)
    assert services.take_missing_back(going, [first], by=clinician) == (0, 1)


def test_a_full_class_is_passed_by(going, site, usual, nurse, clinician):
    ends = going.planned_end_on
    timetable.change_class(
        timetable.ClassChange(slot=usual[0], on=ends + timedelta(days=3), seats=0, reason="drill"),
        by=clinician,
    )
    missed(going, by=nurse)
    done = services.book_missing(going, by=clinician)
    assert [one.on for one in done.sessions] == [ends + timedelta(days=5)]


def test_what_the_36_weeks_cannot_hold_is_told(site, clinician, nurse, clock):
    once = [ClassSlotFactory(site=site, weekday=0, starts_at=time(9))]
    course = enrolled(site, once, clinician, sessions=34)
    clock.move_to(at(START))
    for n in range(4):
        missed(course, START + timedelta(weeks=n), by=nurse)
    done = services.book_missing(course, by=clinician)
    # 36 Mondays lie in the course, 34 were planned.
    assert [one.on for one in done.sessions] == [START + timedelta(weeks=n) for n in (34, 35)]
    assert done.n_without == 2
    assert short_of(course).missing == 2


def test_nothing_is_booked_in_the_past(going, nurse, clinician, clock):
    """Bookings ran out weeks ago."""
    going.planned.filter(on__gt=FRI).delete()
    clock.move_to(at(FRI + timedelta(days=20)))  # a Thursday
    found = short_of(going)
    assert (found.booked, found.days) == (0, 0)
    done = services.book_missing(going, by=clinician)
    assert done.sessions[0].on == FRI + timedelta(days=21)
    assert len(done.sessions) == 24


def test_a_session_of_the_last_days_that_nobody_recorded_is_not_missing_yet(going, clock):
    clock.move_to(at(FRI))
    assert short_of(going) is None  # Monday and Wednesday may still be written up
    clock.move_to(at(MONDAY + timedelta(days=8)))
    assert short_of(going).missing == 1


def test_each_course_is_counted_on_the_day_of_its_own_site(going, clinician, clock):
    tokyo = SiteFactory(timezone="Asia/Tokyo")
    slots = [ClassSlotFactory(site=tokyo, weekday=n) for n in (0, 2, 4)]
    clock.move_to(at(START))
    there = enrolled(tokyo, slots, clinician)
    came(there, MONDAY)
    clock.move_to(at(MONDAY + timedelta(days=7), hour=22))  # in Tokyo it is Tuesday
    found = {one.enrolment: one.missing for one in short_at([going.patient.site, tokyo])}
    assert found == {there.pk: 1}
    assert short_of(going) is None
    assert short_of(there).missing == 1


def test_a_paused_or_ended_course_is_not_on_the_list(going, nurse, clinician):
    missed(going, by=nurse)
    enrolments.pause(going, WED, "surgery", by=clinician)
    assert short_at([going.patient.site]) == []
    with pytest.raises(ValidationError, match="paused"):
        services.book_missing(going, by=clinician)
    enrolments.resume(going, WED, by=clinician)
    going.refresh_from_db()
    enrolments.close(going, WED - timedelta(days=1), "choice", by=clinician)
    assert short_at([going.patient.site]) == []
    with pytest.raises(ValidationError, match="ended"):
        services.book_missing(going, by=clinician)


def test_a_make_up_and_the_press_together_book_no_more_than_is_missing(
    going, other, nurse, clinician
):
    planned = missed(going, by=nurse)
    services.book_make_up(planned, other, date(2026, 12, 3), by=nurse)
    with pytest.raises(ValidationError, match="Nothing is missing"):
        services.book_missing(going, by=clinician)
    # Booked at the end first: the make-up is refused then.
    again = missed(going, WED, by=nurse)
    services.book_missing(going, by=clinician)
    with pytest.raises(ValidationError, match="sessions are booked and"):
        services.book_make_up(again, other, date(2026, 12, 10), by=nurse)


def test_a_make_up_as_the_last_session_of_a_day_is_not_doubled(
    going, site, usual, clinician, nurse
):
    """The missing are booked after it, never at its hour or as a third of its day."""
    planned, again = missed(going, by=nurse), missed(going, WED, by=nurse)
    last = going.planned_end_on + timedelta(days=3)  # a Monday, as the usual class
    slot = ClassSlotFactory(site=site, weekday=0, starts_at=time(9, 30))
    services.book_make_up(planned, slot, last, by=nurse)
    done = services.book_missing(going, by=clinician)
    assert [one.on for one in done.sessions] == [last + timedelta(days=2)]
    assert again.on == WED


def test_announced_and_planned_anew_counts_once(going, usual, site, nurse, clinician):
    """An absence announced for a day that was given up since stands for no booking."""
    from programs.enrolment.courses import changes

    missed(going, FRI, by=nurse, absence="holiday")
    assert short_of(going).missing == 1
    days = [ClassSlotFactory(site=site, weekday=n, starts_at=time(15)) for n in (1, 3)]
    changes.change_days(going, days, WED, by=clinician)
    assert short_of(going) is None


# --- pages --------------------------------------------------------------------------------------


def test_due_lists_it_for_clinicians_and_one_press_there_comes_back(client, going, people):
    missed(going, by=people["floor"])
    client.force_login(people["clinician"])
    page = client.get(reverse("reports:due")).content.decode()
    assert "1 missing: 24 to go, 23 booked" in " ".join(page.split())
    sent = client.post(
        reverse("attendance:book-missing", args=[going.pk]),
        {"from": "due", "submission_key": new_key()},
        follow=True,
    )
    assert sent.redirect_chain[-1][0] == reverse("reports:due")
    page = " ".join(sent.content.decode().split())
    assert "1 session of" in page
    assert "Undo booking of 1" in page
    assert "to go, 23 booked" not in page
    undone = client.post(
        reverse("attendance:undo-missing", args=[going.pk]), {"from": "due"}, follow=True
    )
    assert "to go, 23 booked" in undone.content.decode()
    again = client.post(reverse("attendance:undo-missing", args=[going.pk]), follow=True)
    assert "Nothing to take back" in again.content.decode()
    client.force_login(people["floor"])
    assert "to go, 23 booked" not in client.get(reverse("reports:due")).content.decode()


@pytest.mark.parametrize("page", ["reports:journey", "assessments:change-course"])
def test_course_and_overview_say_it_and_take_the_press(client, going, people, page):
    missed(going, by=people["floor"])
    client.force_login(people["clinician"])
    key = going.patient_id if page == "reports:journey" else going.pk
    shown = " ".join(client.get(reverse(page, args=[key])).content.decode().split())
    assert "1 session not booked" in shown
    assert "24 to go, 23 booked." in shown
    where = "journey" if page == "reports:journey" else "course"
    assert f'name="from" value="{where}"' in shown
    sent = client.post(
        reverse("attendance:book-missing", args=[going.pk]), {"from": where}, follow=True
    )
    assert sent.redirect_chain[-1][0] == reverse(page, args=[key])
    assert "not booked" not in sent.content.decode()
    assert "Undo booking of 1" in sent.content.decode()


def test_more_booked_than_to_go_is_said(client, going, other, people, clock):
    planned = missed(going, by=people["floor"])
    services.book_make_up(planned, other, date(2026, 12, 3), by=people["floor"])
    clock.move_to(at(date(2026, 12, 3), 15))
    meeting = ClassMeeting.objects.create(slot=other, on=date(2026, 12, 3))
    VisitFactory(enrolment=going, meeting=meeting, finished=True)
    VisitFactory(
        enrolment=going,
        meeting=ClassMeeting.objects.create(slot=going.slots.get(weekday=2), on=WED),
        finished=True,
    )
    visit = going.visits.get(on=MONDAY)
    visit.state, visit.absence, visit.minutes = "finished", "", 41
    visit.counts_first = True
    visit.save()
    client.force_login(people["clinician"])
    page = client.get(reverse("assessments:change-course", args=[going.pk])).content.decode()
    assert "1 session more booked than to go: 22 booked, 21 to go." in " ".join(page.split())


def test_due_of_whose_narrows_it(going, people):
    missed(going, by=people["floor"])
    clinician = people["clinician"]
    going.clinician = clinician
    going.save()
    assert len(due_for(clinician, str(clinician.pk)).short) == 1
    assert due_for(people["floor"]).short == []
    assert due_for(people["manager"]).short == []


def test_one_site_a_day_ahead_of_another_counts_by_its_own_day(going, nurse):
    missed(going, by=nurse)
    site = going.patient.site
    with time_machine.travel(at(MONDAY, 23), tick=False):  # Tuesday in UTC, Monday there
        assert site.today() == MONDAY
        assert short_of(going).missing == 1
    mark_absent(
        going.planned.select_related("slot__site", "enrolment__patient__site").get(on=FRI),
        "holiday",
        by=nurse,
    )
    assert short_of(going).missing == 2
