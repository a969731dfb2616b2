"""A course takes another turn: what lies ahead is planned anew, what lies behind never changes."""

import contextlib
from datetime import date, time, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from patients.models import Condition
from programs.enrolment.courses import changes as course_changes
from programs.enrolment.courses import services as enrolments
from programs.enrolment.models import ClassChange, Closure, PlannedSession, Referral
from programs.enrolment.seats import booking
from programs.enrolment.timetable import services as timetable
from tests.due import due_on
from tests.factories.attendance import VisitFactory
from tests.factories.enrolment import ClassSlotFactory, ReferralFactory
from tests.factories.staff import SiteFactory, UserFactory


def weekly(site, hour, days=(0, 2, 4), **more):
    return [ClassSlotFactory(site=site, weekday=day, starts_at=time(hour), **more) for day in days]


def booked(site, by, slots, *, starts_in=1, sessions=18):
    referral = ReferralFactory(patient__site=site, confirmed=True)
    start = site.today() + timedelta(days=starts_in)
    return enrolments.enrol(referral, slots, start, sessions, by=by)


@pytest.fixture
def slots(site):
    return weekly(site, 9)


@pytest.fixture
def ahead(site, clinician, slots):
    """A course of 18 sessions that starts tomorrow or later."""
    return booked(site, clinician, slots)


@pytest.fixture
def under_way(site, clinician, slots):
    """A course that began three weeks ago: nine sessions behind, nine ahead."""
    course = booked(site, clinician, slots)
    shift = timedelta(weeks=3)
    for planned in course.planned.order_by("on"):
        PlannedSession.objects.filter(pk=planned.pk).update(on=planned.on - shift)
    course.starts_on -= shift
    course.planned_end_on -= shift
    course.save()
    return course


def days_of(course):
    return list(course.planned.order_by("on").values_list("on", "slot"))


@pytest.mark.django_db
def test_other_days_from_a_day_on(under_way, clinician, site):
    today, other = site.today(), weekly(site, 14, (1, 3))
    behind = [d for d in days_of(under_way) if d[0] <= today]
    from_on = today + timedelta(days=3)
    course_changes.change_days(under_way, other, from_on, by=clinician)
    after = days_of(under_way)
    assert [d for d in after if d[0] <= today] == behind
    assert len(after) == 18
    assert all(on.weekday() in {1, 3} for on, _ in after if on >= from_on)
    assert set(under_way.slots.all()) == set(other)
    under_way.refresh_from_db()
    assert under_way.planned_end_on == after[-1][0]


@pytest.mark.django_db
def test_other_days_cannot_begin_today_or_in_a_pause(under_way, clinician, site, slots):
    with pytest.raises(ValidationError, match="tomorrow"):
        course_changes.change_days(under_way, slots, site.today(), by=clinician)
    enrolments.pause(under_way, site.today(), "ill", by=clinician)
    with pytest.raises(ValidationError, match="resume it first"):
        course_changes.change_days(under_way, slots, site.today() + timedelta(days=2), by=clinician)


@pytest.mark.django_db
def test_full_class_leaves_everything_as_it_was(under_way, clinician, site):
    before = days_of(under_way)
    full = weekly(site, 15, seats=1)
    booked(site, clinician, full, sessions=36)
    with pytest.raises(ValidationError, match="full"):
        course_changes.change_days(under_way, full, site.today() + timedelta(days=1), by=clinician)
    assert days_of(under_way) == before


@pytest.mark.django_db
def test_start_is_moved_until_the_course_has_begun(ahead, under_way, clinician, site):
    later = site.today() + timedelta(days=20)
    course_changes.move_start(ahead, later, by=clinician)
    ahead.refresh_from_db()
    days = days_of(ahead)
    assert (ahead.starts_on, len(days)) == (days[0][0], 18)
    assert ahead.starts_on >= later
    assert due_on(ahead, ahead.starts_on).on == ahead.starts_on
    with pytest.raises(ValidationError, match="has begun"):
        course_changes.move_start(under_way, later, by=clinician)


@pytest.mark.django_db
def test_one_session_is_moved(under_way, clinician, site):
    other = weekly(site, 16, (1,))[0]
    planned = under_way.planned.filter(on__gt=site.today()).last()
    day = planned.on + timedelta(days=(1 - planned.on.weekday()) % 7)
    course_changes.move_session(planned, other, day, by=clinician)
    planned.refresh_from_db()
    assert (planned.on, planned.slot) == (day, other)
    version = planned.history.first()
    assert (version.history_user, version.history_change_reason) == (clinician, "moved")


@pytest.mark.django_db
def test_past_session_stays(under_way, clinician, site, slots):
    past = under_way.planned.filter(on__lte=site.today()).first()
    with pytest.raises(ValidationError, match="stay where they are"):
        course_changes.move_session(past, slots[0], site.today() + timedelta(days=7), by=clinician)


@pytest.mark.django_db
def test_third_session_on_a_day_is_refused(under_way, clinician, site, slots):
    day = under_way.planned.filter(on__gt=site.today()).first().on
    extra = [
        ClassSlotFactory(site=site, weekday=day.weekday(), starts_at=time(h)) for h in (12, 17)
    ]
    enrolments.add_to_class(under_way, extra[0], day, by=clinician)
    with pytest.raises(ValidationError, match="2 sessions are already planned"):
        enrolments.add_to_class(under_way, extra[1], day, by=clinician)


@pytest.mark.django_db
def test_transfer_moves_the_record_and_keeps_the_past(under_way, site):
    other = SiteFactory()
    both = UserFactory(role="clinician", sites=[site, other])
    there, today = weekly(other, 10), site.today()
    behind = [d for d in days_of(under_way) if d[0] <= today]
    course_changes.transfer(under_way, other, there, today + timedelta(days=1), by=both)
    under_way.patient.refresh_from_db()
    assert under_way.patient.site == other
    after = days_of(under_way)
    assert after[: len(behind)] == behind
    assert {slot for _, slot in after[len(behind) :]} == {slot.pk for slot in there}
    assert len(after) == 18


@pytest.mark.django_db
def test_transfer_needs_somebody_of_both_sites(under_way, clinician, site):
    other = SiteFactory()
    with pytest.raises(ValidationError, match="do not work"):
        course_changes.transfer(
            under_way, other, weekly(other, 10), site.today() + timedelta(days=1), by=clinician
        )


@pytest.mark.django_db
def test_new_event_opens_a_new_course(under_way, clinician, site, slots):
    """A-16: the session limit belongs to the event, not to the person (reference S12)."""
    today = site.today()
    event = Condition(kind="mi", happened_on=today - timedelta(days=3))
    found = course_changes.new_event(
        under_way, event, Referral(referred_on=today), today, by=clinician
    )
    under_way.refresh_from_db()
    assert (under_way.outcome, under_way.closed_on) == ("readmission", today)
    from programs.enrolment.referrals import services as referrals

    referrals.confirm_eligibility(found, "eligible", today, by=clinician)
    again = enrolments.enrol(found, slots, today + timedelta(days=1), 36, by=clinician)
    assert again.planned.count() == 36
    assert under_way.planned.filter(on__gt=today).count() == 0


@pytest.mark.django_db
def test_event_before_the_course_is_not_new(under_way, clinician, site):
    old = Condition(kind="mi", happened_on=under_way.starts_on - timedelta(days=1))
    with pytest.raises(ValidationError, match="after the course began"):
        course_changes.new_event(
            under_way, old, Referral(referred_on=site.today()), site.today(), by=clinician
        )
    under_way.refresh_from_db()
    assert under_way.is_open


@pytest.mark.django_db
def test_second_course_needs_the_first_to_end(under_way, clinician, site, slots):
    second = ReferralFactory(patient=under_way.patient, confirmed=True)
    with pytest.raises(ValidationError, match="is in a course"):
        enrolments.enrol(second, slots, site.today() + timedelta(days=1), 6, by=clinician)


@pytest.mark.django_db
def test_given_up_booking_keeps_who_and_why(under_way, clinician, site):
    planned = under_way.planned.last()
    key = planned.pk
    enrolments.close(under_way, site.today(), "choice", by=clinician)
    version = PlannedSession.history.filter(id=key).first()
    assert (version.history_type, version.history_user) == ("-", clinician)
    assert version.history_change_reason == "own choice"


# --- closed days and single classes --------------------------------------------------------


@pytest.mark.django_db
def test_closing_a_day_gives_everybody_a_later_session(under_way, clinician, site):
    day = under_way.planned.filter(on__gt=site.today()).first().on
    before = days_of(under_way)
    moved = timetable.close_day(site, day, "water damage", by=clinician)
    after = days_of(under_way)
    assert (len(moved.moved), moved.without) == (1, [])
    assert day not in {on for on, _ in after}
    assert len(after) == len(before)
    assert after[-1][0] > before[-1][0]
    under_way.refresh_from_db()
    assert under_way.planned_end_on == after[-1][0]


@pytest.mark.django_db
def test_closing_the_first_day_moves_the_start(ahead, clinician, site):
    timetable.close_day(site, ahead.starts_on, "snow", by=clinician)
    ahead.refresh_from_db()
    assert ahead.starts_on == days_of(ahead)[0][0]


@pytest.mark.django_db
@pytest.mark.parametrize(("days_ago", "asks"), [(100, False), (364, True)])
def test_first_session_moved_by_a_closure_is_read_by_the_rule_again(
    site, clinician, days_ago, asks
):
    """A-01: twelve months, counted back from the first session."""
    slot = ClassSlotFactory(site=site, weekday=(site.today().weekday() + 1) % 7)
    referral = ReferralFactory(
        patient__site=site,
        condition__kind="mi",
        condition__happened_on=site.today() - timedelta(days=days_ago),
        confirmed=True,
    )
    start = site.today() + timedelta(days=1)
    course = enrolments.enrol(referral, [slot], start, 6, by=clinician)
    moved = timetable.close_day(site, course.starts_on, "snow", by=clinician)
    assert moved.to_judge == ([course] if asks else [])


@pytest.mark.django_db
def test_closing_today_leaves_those_who_came(site, clinician):
    slot = ClassSlotFactory(site=site)
    came, not_yet = [booked(site, clinician, [slot], sessions=3) for _ in range(2)]
    today = site.today()
    for course in (came, not_yet):
        PlannedSession.objects.create(enrolment=course, slot=slot, on=today)
    from tests.test_pages import meeting_of

    VisitFactory(enrolment=came, meeting=meeting_of(came.planned.get(on=today)), on=today)
    other = meeting_of(PlannedSession(slot=ClassSlotFactory(site=site), on=today))
    VisitFactory(enrolment=came, meeting=other, on=today, state="expected")  # an undone arrival
    timetable.close_day(site, today, "power cut", by=clinician)
    assert came.planned.filter(on=today).exists()
    assert not not_yet.planned.filter(on=today).exists()


def test_states_that_have_begun_are_attendances_own():
    from programs.attendance.models import Visit

    assert set(timetable.BEGUN) == set(Visit.State.values) - {Visit.State.EXPECTED.value}


@pytest.mark.django_db
def test_closed_day_is_taken_back_and_may_close_again(site, clinician, slots):
    day = site.today() + timedelta(days=8)
    timetable.close_day(site, day, "mistake", by=clinician)
    closure = Closure.objects.get()
    timetable.open_day(closure, by=clinician)
    assert day not in booking.closed_days(site)
    timetable.close_day(site, day, "flood", by=clinician)
    assert day in booking.closed_days(site)
    assert closure.history.first().history_change_reason == "open after all"


@pytest.mark.django_db
def test_yesterday_cannot_be_closed(site, clinician):
    with pytest.raises(ValidationError, match="stays as it was"):
        timetable.close_day(site, site.today() - timedelta(days=1), "late", by=clinician)


@pytest.mark.django_db
def test_cancelled_class_is_planned_around(under_way, clinician, site):
    planned = under_way.planned.filter(on__gt=site.today()).first()
    change = ClassChange(slot=planned.slot, on=planned.on, is_cancelled=True, reason="staff away")
    timetable.change_class(change, by=clinician)
    assert (planned.on, planned.slot_id) not in days_of(under_way)
    assert len(days_of(under_way)) == 18
    fresh = booked(site, clinician, list(under_way.slots.all()))
    assert (planned.on, planned.slot_id) not in days_of(fresh)


@pytest.mark.django_db
def test_fewer_seats_than_people_is_refused(under_way, clinician, site):
    planned = under_way.planned.filter(on__gt=site.today()).first()
    with pytest.raises(ValidationError, match="1 people are booked"):
        timetable.change_class(
            ClassChange(slot=planned.slot, on=planned.on, seats=0, reason="x"), by=clinician
        )
    slot = planned.slot
    slot.seats, slot.weekday = 8, (slot.weekday + 1) % 7
    with pytest.raises(ValidationError, match="People are booked"):
        timetable.save_class(slot, by=clinician)


@pytest.mark.django_db
def test_special_seats_are_respected(site, clinician, slots):
    first = booked(site, clinician, slots)
    day, key = days_of(first)[0]
    slot = next(s for s in slots if s.pk == key)
    timetable.change_class(ClassChange(slot=slot, on=day, seats=1, reason="one bike"), by=clinician)
    with pytest.raises(ValidationError, match="full"):
        booked(site, clinician, slots)


@pytest.mark.django_db
def test_nobody_is_lost_when_no_later_seat_is_free(site, clinician):
    """The course gets shorter, and the page is told whose."""
    slot = ClassSlotFactory(site=site, weekday=(site.today().weekday() + 1) % 7, seats=1)
    course = booked(site, clinician, [slot], sessions=36)
    moved = timetable.close_day(site, course.starts_on, "flood", by=clinician)
    assert (len(moved.moved), len(moved.without)) in {(0, 1), (1, 0)}
    assert course.planned.count() == 36 - len(moved.without)


@pytest.mark.django_db
def test_closed_or_paused_course_gets_no_session_instead(site, clinician):
    slot = ClassSlotFactory(site=site)
    ended, paused = [booked(site, clinician, [slot], sessions=3) for _ in range(2)]
    for course in (ended, paused):
        PlannedSession.objects.create(enrolment=course, slot=slot, on=site.today())
    enrolments.close(ended, site.today(), "choice", by=clinician)
    enrolments.pause(paused, paused.starts_on, "ill", by=clinician)
    moved = timetable.close_day(site, site.today(), "flood", by=clinician)
    assert (moved.moved, moved.without) == ([], [])
    assert not ended.planned.filter(on__gte=site.today()).exists()
    assert not paused.planned.filter(on__gte=site.today()).exists()


@pytest.mark.django_db
def test_paused_course_cannot_move_its_start(ahead, clinician, site):
    enrolments.pause(ahead, ahead.starts_on, "ill", by=clinician)
    with pytest.raises(ValidationError, match="resume it first"):
        course_changes.move_start(ahead, site.today() + timedelta(days=30), by=clinician)


@pytest.mark.django_db
def test_coming_back_in_the_past_plans_from_today_on(under_way, clinician, site):
    today = site.today()
    pause = enrolments.Pause(
        enrolment=under_way, from_on=today - timedelta(days=14), reason="hospital"
    )
    pause.save()
    under_way.planned.filter(on__gte=pause.from_on).delete()
    before = set(days_of(under_way))
    enrolments.resume(under_way, today - timedelta(days=7), by=clinician)
    assert all(on >= today for on, _ in set(days_of(under_way)) - before)
    assert len(days_of(under_way)) == 18


@pytest.mark.django_db
def test_no_session_lies_past_the_36_weeks(under_way, clinician, site, slots):
    """A-20: day 252 is the last."""
    last = under_way.starts_on + timedelta(days=251)
    slot = ClassSlotFactory(site=site, weekday=(last.weekday() + 1) % 7)
    planned = under_way.planned.last()
    with pytest.raises(ValidationError, match="36 weeks"):
        course_changes.move_session(planned, slot, last + timedelta(days=1), by=clinician)
    with pytest.raises(ValidationError, match="36 weeks"):
        enrolments.add_to_class(under_way, slot, last + timedelta(days=1), by=clinician)
    inside = ClassSlotFactory(site=site, weekday=last.weekday())
    course_changes.move_session(planned, inside, last, by=clinician)


@pytest.mark.django_db
def test_moved_start_is_read_by_the_rule_again(site, clinician, slots):
    referral = ReferralFactory(
        patient__site=site,
        condition__kind="mi",
        condition__happened_on=site.today() - timedelta(days=355),
        confirmed=True,
    )
    course = enrolments.enrol(referral, slots, site.today() + timedelta(days=1), 18, by=clinician)
    with pytest.raises(ValidationError, match="rule says otherwise"):
        course_changes.move_start(course, site.today() + timedelta(days=40), by=clinician)
    course.refresh_from_db()
    assert course.starts_on <= site.today() + timedelta(days=10)


@pytest.mark.django_db
def test_session_given_up_meanwhile_does_not_come_back(under_way, clinician, site, slots):
    planned = under_way.planned.filter(on__gt=site.today()).last()
    enrolments.pause(under_way, site.today(), "ill", by=clinician)
    with pytest.raises(ValidationError, match="given up meanwhile"):
        course_changes.move_session(
            planned, slots[0], site.today() + timedelta(days=7), by=clinician
        )


@pytest.mark.django_db
def test_same_days_again_change_nothing(under_way, clinician, site, slots):
    with pytest.raises(ValidationError, match="the days already"):
        course_changes.change_days(under_way, slots, site.today() + timedelta(days=2), by=clinician)


# --- pages ---------------------------------------------------------------------------------


@pytest.mark.django_db
def test_course_page_takes_each_turn(client, clinician, under_way, site):
    client.force_login(clinician)
    url = reverse("assessments:change-course", args=[under_way.pk])
    other = weekly(site, 13, (1, 3))
    data = {
        "step": "days",
        "days-from_on": site.today() + timedelta(days=2),
        "days-slots": [slot.pk for slot in other],
    }
    assert client.post(url, data).status_code == 302
    assert set(under_way.slots.all()) == set(other)
    event = {
        "step": "event", "event-kind": "pci", "event-event_on": site.today(),
        "event-last_day": site.today(),
    }  # fmt: skip
    response = client.post(url, event)
    assert reverse("enrolment:referrals") in response.url


@pytest.mark.django_db
def test_closing_a_day_on_the_page_tells_how_many_moved(client, people, under_way, site):
    client.force_login(people["manager"])
    day = under_way.planned.filter(on__gt=site.today()).first().on
    data = {"closure-on": day, "closure-reason": "holiday"}
    page = client.post(reverse("enrolment:close-day"), data, follow=True).content.decode()
    assert f"please tell them: {under_way.patient}" in page
    again = client.post(reverse("enrolment:close-day"), data).content.decode()
    assert "already closed" in again


# --- whatever happens ----------------------------------------------------------------------

TURNS = st.lists(
    st.tuples(
        st.sampled_from(["days", "pause", "resume", "close_day", "cancel", "move", "leave"]),
        st.integers(1, 40),
    ),
    min_size=1,
    max_size=6,
)


class ReplanningTest(TestCase):
    """Re-planning never changes what has happened, never meets a closure, never three a day."""

    @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
    @given(turns=TURNS)
    def test_turns_keep_the_past_and_the_limits(self, turns):
        site = SiteFactory()
        by = UserFactory(role="clinician", sites=[site])
        slots = weekly(site, 9)
        course = booked(site, by, slots, sessions=18)
        for planned in course.planned.all():
            PlannedSession.objects.filter(pk=planned.pk).update(on=planned.on - timedelta(weeks=3))
        course.starts_on -= timedelta(weeks=3)
        course.save()
        today = site.today()
        behind = [d for d in days_of(course) if d[0] <= today]
        for name, n in turns:
            with contextlib.suppress(ValidationError):  # a refusal leaves everything as it was
                self.turn(name, n, course, site, slots, by)
            now = days_of(course)
            assert [d for d in now if d[0] <= today] == behind
            on_days = [on for on, _ in now]
            shut = set(Closure.objects.filter(site=site).values_list("on", flat=True))
            assert not shut & {on for on in on_days if on > today}
            assert max(on_days.count(on) for on in on_days) <= 2
            assert len(now) <= 18

    def turn(self, name, n, course, site, slots, by):
        day = site.today() + timedelta(days=n)
        if name == "days":
            course_changes.change_days(course, slots[: 1 + n % 3], day, by=by)
        elif name == "pause":
            enrolments.pause(course, day, "ill", by=by)
        elif name == "resume":
            enrolments.resume(course, day, by=by)
        elif name == "close_day":
            timetable.close_day(site, day, "closed", by=by)
        elif name == "cancel":
            slot = next((s for s in slots if s.weekday == day.weekday()), slots[0])
            change = ClassChange(slot=slot, on=day, is_cancelled=True, reason="ill")
            timetable.change_class(change, by=by)
        elif name == "move":
            planned = course.planned.filter(on__gt=site.today()).first()
            if planned is not None:
                course_changes.move_session(planned, slots[n % 3], day, by=by)
        else:
            enrolments.close(course, site.today(), "choice", by=by)
            enrolments.reopen(course, by=by, reason="came back")


def test_hours_keep_their_wall_clock_through_daylight_saving(db):
    """A session at 09:00 is at 09:00 before and after the clocks change (RFC 5545 TZID)."""
    from icalendar import Calendar

    from programs.enrolment.courses import letters

    site = SiteFactory(timezone="America/New_York")
    by = UserFactory(role="clinician", sites=[site])
    course = booked(site, by, weekly(site, 9), sessions=18)
    calendar = Calendar.from_ical(letters.calendar_file(course))
    events = list(calendar.walk("VEVENT"))
    assert [e["dtstart"].dt.hour for e in events] == [9] * 18
    assert [e["dtstart"].dt.date() for e in events] == [on for on, _ in days_of(course)]
    assert {str(e["dtstart"].params["TZID"]) for e in events} == {"America/New_York"}
    offsets = {e["dtstart"].dt.utcoffset() for e in events}
    assert offsets <= {timedelta(hours=-5), timedelta(hours=-4)}
    text = letters.calendar_file(course).decode()
    assert course.patient.family_name not in text
    assert len({str(e["uid"]) for e in events}) == 18


@pytest.mark.django_db
def test_calendar_file_crosses_the_clock_change(site, clinician):
    """New York leaves daylight saving on 7 November 2027 and enters it on 14 March 2027."""
    from icalendar import Calendar

    from programs.enrolment.courses import letters

    course = booked(site, clinician, weekly(site, 9), sessions=6)
    planned = list(course.planned.order_by("on"))
    for row, day in zip(planned, [date(2027, 3, 12), date(2027, 3, 15)], strict=False):
        PlannedSession.objects.filter(pk=row.pk).update(on=day)
    events = Calendar.from_ical(letters.calendar_file(course)).walk("VEVENT")
    found = {e["dtstart"].dt.date(): e["dtstart"].dt.utcoffset() for e in events}
    assert found[date(2027, 3, 12)] == timedelta(hours=-5)
    assert found[date(2027, 3, 15)] == timedelta(hours=-4)


@pytest.mark.django_db
def test_letter_and_file_are_for_those_of_the_site(clinician, ahead):
    client = Client()
    client.force_login(clinician)
    page = client.get(reverse("enrolment:letter", args=[ahead.pk])).content.decode()
    assert f"{ahead.starts_on:%-d} {ahead.starts_on:%B %Y}" in page
    response = client.get(reverse("enrolment:sessions-file", args=[ahead.pk]))
    assert response["Content-Type"].startswith("text/calendar")
    from patients.models import AuditEvent

    assert AuditEvent.objects.filter(kind="export", patient=ahead.patient).exists()
