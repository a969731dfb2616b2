"""A missed session comes back: offered, booked, sat in an absent person's seat, taken back.

Two sessions a day, 36 sessions in 36 weeks: 42 CFR 410.49(f). The rest is common practice, no
source.
"""

from datetime import UTC, date, datetime, time, timedelta

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.urls import reverse

from patients.submissions import AlreadyTaken, new_key
from programs.attendance.meeting.services import add_somebody, n_expected
from programs.attendance.missed import services
from programs.attendance.missed.queries import offered_for, standing_of
from programs.attendance.models import ClassMeeting, Visit
from programs.attendance.paper.plan import plan_of
from programs.attendance.today.queries import day_of
from programs.attendance.visit.services import undo_arrival
from programs.enrolment.courses import changes
from programs.enrolment.courses import services as enrolments
from programs.enrolment.courses.make_ups import give_up_make_up
from programs.enrolment.models import ClassChange, PlannedSession
from programs.enrolment.timetable import services as timetable
from tests.factories.attendance import VisitFactory
from tests.factories.enrolment import ClassSlotFactory
from tests.factories.staff import SiteFactory
from tests.missed import FRI, MONDAY, START, WED, at, came, enrolled, missed

pytestmark = pytest.mark.django_db


def offers(planned):
    return [(one.on, one.slot.starts_at.hour) for one in offered_for(planned).offers]


def test_the_next_class_with_a_seat_is_offered_first(going, other, nurse):
    planned = missed(going, by=nurse)
    # Wednesdays, Fridays and Mondays at nine are the person's own until the course ends in January.
    assert offers(planned)[:2] == [(date(2026, 12, 3), 14), (date(2026, 12, 10), 14)]
    assert len(offers(planned)) == 4


def test_a_make_up_stands_for_the_missed_session_and_nothing_is_missing(going, other, nurse):
    planned = missed(going, by=nurse)
    assert standing_of(going).missing == 1
    key = new_key()
    booked = services.book_make_up(planned, other, date(2026, 12, 3), key=key, by=nurse)
    assert (booked.makes_up_on, booked.makes_up_slot_id) == (MONDAY, planned.slot_id)
    assert standing_of(going) == (36, 12, 24)
    with pytest.raises(AlreadyTaken):
        services.book_make_up(planned, other, date(2026, 12, 3), key=key, by=nurse)
    with pytest.raises(ValidationError, match="booked already"):
        services.book_make_up(planned, other, date(2026, 12, 10), key=new_key(), by=nurse)
    assert going.planned.count() == 37
    assert booked.history.first().history_change_reason == "make-up"


def test_two_desks_after_the_last_seat_one_is_told(going, site, usual, other, nurse, clinician):
    second = enrolled_now(site, usual, clinician)
    first = missed(going, by=nurse)
    theirs = missed(second, by=nurse)
    day = date(2026, 12, 3)
    services.book_make_up(first, other, day, by=nurse)
    with pytest.raises(ValidationError, match="full on 1 of the days"):
        services.book_make_up(theirs, other, day, by=clinician)
    assert offers(theirs)[0] == (date(2026, 12, 10), 14)


def enrolled_now(site, slots, by):
    """Another course that began with the first, with nothing recorded yet but this week's."""
    with time_machine.travel(at(START - timedelta(days=1)), tick=False):
        course = enrolled(site, slots, by)
    came(course, MONDAY)
    return course


def test_the_seat_of_somebody_absent_is_free_for_a_make_up_alone(
    going, site, other, nurse, clinician
):
    day = date(2026, 12, 3)
    with time_machine.travel(at(START - timedelta(days=1)), tick=False):
        holder = enrolled(site, [other], clinician, sessions=8)
    first = missed(going, by=nurse)
    # Full until the eighth of their Thursdays.
    assert offers(first)[:1] == [(date(2026, 12, 31), 14)]
    announced = missed(holder, day, by=nurse, absence="appointment")
    found = offered_for(first).offers[0]
    assert (found.on, found.seat_words) == (day, "in the seat of somebody absent")
    extra = enrolled_now(site, [ClassSlotFactory(site=site, weekday=1, starts_at=time(8))], nurse)
    with pytest.raises(ValidationError, match="full"):
        add_somebody(extra, other, day, approval="Blue Fern 7", by=nurse)  # missed nothing
    services.book_make_up(first, other, day, by=nurse)
    assert n_expected(other, day) == 1
    here = day_of(site, day, other.pk)
    assert (here.seat_words, here.n_over) == ("1 of 1 seats, 1 absent", 0)
    row = next(row for row in here.rows if row.make_up_words)
    assert row.make_up_words == "make-up for Mon 30 Nov"
    assert row.flags[0] == "in the seat of somebody absent"
    # The absence is taken back: both stay, and the class says so.
    undo_arrival(announced, by=nurse)
    here = day_of(site, day, other.pk)
    assert (here.seat_words, here.n_over, len(here.rows)) == ("2 of 1 seats", 1, 2)
    assert all("seat of somebody" not in flag for row in here.rows for flag in row.flags)
    assert plan_of(other, day).n_over == 1
    # The class can still be saved, and its hour changed.
    timetable.save_class(other, by=clinician)
    moved = ClassChange(slot=other, on=day, starts_at=time(15), reason="room")
    timetable.change_class(moved, by=clinician)


def test_an_absence_taken_back_takes_its_make_up_back(going, other, nurse):
    planned = missed(going, by=nurse)
    booked = services.book_make_up(planned, other, date(2026, 12, 31), by=nurse)
    assert undo_arrival(planned, by=nurse) == booked
    assert not PlannedSession.objects.filter(pk=booked.pk).exists()
    assert standing_of(going) == (36, 12, 24)
    # Missed after all, with another reason, and made up again.
    again = missed(going, by=nurse, absence="ill")
    services.book_make_up(again, other, date(2026, 12, 10), by=nurse)
    assert standing_of(going) == (36, 12, 24)


def test_a_make_up_that_somebody_came_to_stays(going, other, nurse, clock):
    planned = missed(going, by=nurse)
    day = date(2026, 12, 3)
    booked = services.book_make_up(planned, other, day, by=nurse)
    clock.move_to(at(day, 15))
    meeting = ClassMeeting.objects.create(slot=other, on=day)
    VisitFactory(enrolment=going, meeting=meeting, finished=True)
    assert undo_arrival(planned, by=nurse) is None
    with pytest.raises(ValidationError, match="has begun"):
        give_up_make_up(booked, by=nurse)
    assert going.planned.filter(pk=booked.pk).exists()


def test_a_make_up_beyond_the_planned_end_moves_it_and_back(going, other, nurse):
    planned = missed(going, by=nurse)
    ends = going.planned_end_on
    booked = services.book_make_up(planned, other, date(2027, 1, 28), by=nurse)
    going.refresh_from_db()
    assert going.planned_end_on == date(2027, 1, 28)
    give_up_make_up(booked, by=nurse)
    going.refresh_from_db()
    assert going.planned_end_on == ends


# --- why nothing is offered ---------------------------------------------------------------------


def why(planned):
    found = offered_for(planned)
    assert not found.offers
    return found.why_none


def test_a_paused_or_ended_course_is_offered_nothing(going, other, nurse, clinician):
    planned = missed(going, by=nurse)
    enrolments.pause(going, MONDAY, "surgery", by=clinician)
    assert "paused" in why(planned)
    enrolments.resume(going, WED, by=clinician)
    going.refresh_from_db()
    enrolments.close(going, MONDAY, "medical", by=clinician)
    again = PlannedSession.objects.get(pk=planned.pk)
    assert "ended" in why(again)
    with pytest.raises(ValidationError, match="ended"):
        services.book_make_up(again, other, date(2026, 12, 3), by=nurse)


def test_days_of_a_pause_ahead_are_left_out(going, other, nurse, clinician):
    planned = missed(going, by=nurse)
    enrolments.pause(going, date(2026, 12, 9), "travel", by=clinician)
    ahead = [on for on, _ in offers(planned)]
    assert ahead == [date(2026, 12, 3)]
    with pytest.raises(ValidationError, match="paused on"):
        services.book_make_up(planned, other, date(2026, 12, 10), by=nurse)


def test_the_last_session_missed_is_made_up_within_the_36_weeks(
    site, usual, other, clinician, nurse, clock
):
    course = enrolled(site, usual, clinician)
    last = course.planned.last().on
    clock.move_to(at(last))
    came(course, last)
    planned = missed(course, last, by=nurse)
    assert standing_of(course) == (36, 35, 0)
    assert len(offers(planned)) == 4
    clock.move_to(at(START + timedelta(days=36 * 7 - 2)))  # a Saturday, no class is left
    assert "fits" in why(planned)
    clock.move_to(at(START + timedelta(days=36 * 7)))
    assert "36 weeks of this course" in why(planned) or "are over" in why(planned)


def test_nothing_is_offered_once_all_sessions_are_used(going, other, nurse):
    planned = missed(going, by=nurse)
    going.sessions_planned = 12
    going.save()
    again = going.planned.select_related("enrolment__patient__site").get(pk=planned.pk)
    assert why(again) == "All 12 sessions of the course are used."


def test_enough_is_booked_already(going, other, nurse):
    add_somebody(going, other, date(2026, 12, 3), approval="Blue Fern 12", by=nurse)
    going.sessions_planned, going.extension_reason = 36, ""
    going.save()
    planned = missed(going, by=nurse)
    assert why(planned) == "24 sessions are booked and 24 are to go."


def test_closed_cancelled_full_and_moved_classes_are_left_out(going, site, other, nurse, clinician):
    planned = missed(going, by=nurse)
    timetable.close_day(site, date(2026, 12, 3), "holiday", by=clinician)
    cancelled = ClassChange(slot=other, on=date(2026, 12, 10), is_cancelled=True, reason="ill")
    timetable.change_class(cancelled, by=clinician)
    full = ClassChange(slot=other, on=date(2026, 12, 17), seats=0, reason="drill")
    timetable.change_class(full, by=clinician)
    moved = ClassChange(slot=other, on=date(2026, 12, 24), starts_at=time(11), reason="holiday")
    timetable.change_class(moved, by=clinician)
    assert offers(planned)[0] == (date(2026, 12, 24), 14)
    assert offered_for(planned).offers[0].words.endswith("11:00")


def test_nobody_is_offered_a_class_at_the_hour_of_their_own_or_a_day_they_are_away(
    going, site, nurse
):
    ClassSlotFactory(site=site, weekday=2, starts_at=time(9, 30))
    later = ClassSlotFactory(site=site, weekday=2, starts_at=time(13))
    planned = missed(going, by=nurse)
    assert offers(planned)[0] == (WED, 13)
    missed(going, WED, by=nurse, absence="holiday")
    assert offers(planned)[0] == (WED + timedelta(days=7), 13)
    slot = ClassSlotFactory(site=site, weekday=4, starts_at=time(9, 15))
    with pytest.raises(ValidationError, match="same hour"):
        services.book_make_up(planned, slot, FRI, by=nurse)
    third = ClassSlotFactory(site=site, weekday=4, starts_at=time(16))
    services.book_make_up(planned, third, FRI, by=nurse)
    assert later.planned.count() == 0


def test_days_and_hours_are_those_of_the_site(going, site, nurse, clock):
    """A class of today that has begun on the site's clock is not offered; a later one is."""
    ClassSlotFactory(site=site, weekday=4, starts_at=time(11))
    evening = ClassSlotFactory(site=site, weekday=4, starts_at=time(20))
    planned = missed(going, by=nurse)
    clock.move_to(datetime(2026, 12, 4, 23, 0, tzinfo=UTC))  # Friday 18:00 there
    assert offers(planned)[0] == (FRI, 20)
    clock.move_to(datetime(2026, 12, 5, 2, 0, tzinfo=UTC))  # Friday 21:00 there, Saturday in UTC
    assert offers(planned)[0] == (FRI + timedelta(days=7), 11)
    with pytest.raises(ValidationError, match="lies behind"):
        services.book_make_up(planned, evening, MONDAY, by=nurse)


def test_somebody_who_moved_makes_up_at_the_new_site(going, other, nurse, clinician, clock):
    planned = missed(going, by=nurse)
    there = SiteFactory()
    clinician.sites.add(there)
    fresh = type(clinician).objects.get(pk=clinician.pk)
    slots = [ClassSlotFactory(site=there, weekday=n, starts_at=time(10)) for n in (0, 2, 4)]
    tuesday = ClassSlotFactory(site=there, weekday=1, starts_at=time(10))
    changes.transfer(going, there, slots, WED, by=fresh)
    planned = PlannedSession.objects.select_related("enrolment__patient__site").get(pk=planned.pk)
    assert offered_for(planned).offers[0].slot == tuesday
    with pytest.raises(ValidationError, match="is not held at"):
        services.book_make_up(planned, other, date(2026, 12, 3), by=fresh)


def test_somebody_added_by_hand_makes_up_the_last_session_missed(going, other, nurse):
    missed(going, by=nurse)
    booked = add_somebody(going, other, date(2026, 12, 3), by=nurse)
    assert booked.makes_up_on == MONDAY


# --- pages --------------------------------------------------------------------------------------


def test_recorded_absence_leads_to_the_offer_and_one_press_books(client, going, other, nurse):
    client.force_login(nurse)
    planned = going.planned.get(on=MONDAY)
    sent = client.post(reverse("attendance:absent", args=[planned.pk]), {"absence": "ill"})
    to = reverse("attendance:make-up", args=[planned.pk])
    assert sent.headers["Location"] == to
    page = client.get(to).content.decode()
    assert "Make-up for Mon 30 Nov" in page
    assert "None of these" in page
    assert "Ill: ask how they are" in page
    wrong = client.post(to, {"sitting": "soon", "submission_key": new_key()})
    assert "Choose a class." in wrong.content.decode()
    booked = client.post(to, {"sitting": f"2026-12-03:{other.pk}", "submission_key": new_key()})
    assert booked.status_code == 302
    assert going.planned.get(on=date(2026, 12, 3)).makes_up_on == MONDAY
    back = client.get(booked.headers["Location"]).content.decode()
    assert "<b>Make-up Thu 3 Dec</b>" in back
    given = client.post(reverse("attendance:give-up-make-up", args=[planned.pk]), follow=True)
    assert "Make-up on Thu 3 Dec 14:00 given up." in given.content.decode()
    twice = client.post(reverse("attendance:give-up-make-up", args=[planned.pk]), follow=True)
    assert "No make-up is booked." in twice.content.decode()
    client.post(to, {"sitting": f"2026-12-10:{other.pk}", "submission_key": new_key()})
    undone = client.post(reverse("attendance:undo", args=[planned.pk]), follow=True)
    assert "the make-up on Thu 10 Dec is given up" in undone.content.decode()
    assert Visit.objects.get(enrolment=going, on=MONDAY).state == "expected"


def test_the_sheet_and_plan_say_the_make_up_and_name_nobody_else(
    client, site, going, other, nurse, clinician, clock
):
    day = date(2026, 12, 3)
    with time_machine.travel(at(START - timedelta(days=1)), tick=False):
        holder = enrolled(site, [other], clinician, sessions=8)
    missed(holder, day, by=nurse)
    booked = services.book_make_up(missed(going, by=nurse), other, day, by=nurse)
    clock.move_to(at(day, 14))
    client.force_login(nurse)
    client.post(reverse("attendance:arrive", args=[booked.pk]))
    visit = Visit.objects.get(enrolment=going, on=day)
    sheet = client.get(reverse("attendance:sheet", args=[visit.pk])).content.decode()
    assert "make-up for Mon 30 Nov" in sheet
    assert "in the seat of somebody absent" in sheet
    assert holder.patient.family_name not in sheet or (
        holder.patient.family_name == going.patient.family_name
    )
    plan = plan_of(other, day)
    line = next(line for line in plan.lines if line.make_up)
    assert line.make_up == "make-up for Mon 30 Nov"
    assert "in the seat of somebody absent" in [word.text for word in line.watch]
