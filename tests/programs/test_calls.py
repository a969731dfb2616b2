"""Two sessions missed in a row without a reason make a call: common practice, no source."""

from datetime import timedelta

import pytest
from django.urls import reverse

from patients.submissions import new_key
from programs.attendance.missed.due import calls_at, to_call
from programs.attendance.visit.services import undo_arrival
from programs.enrolment.courses import services as enrolments
from programs.enrolment.models import ContactAttempt
from reports.worklists import due_for
from tests.missed import FRI, MONDAY, WED, at, missed

pytestmark = pytest.mark.django_db
NEXT = MONDAY + timedelta(days=7)


def days_of(course):
    """As Due lists it; the same as the course's own page."""
    found = {one.enrolment: one for one in calls_at([course.patient.site])}.get(course.pk)
    own = to_call(course)
    assert (own.days if own else ()) == (found.days if found else ())
    return list(found.days) if found else []


@pytest.fixture
def unheard(going, nurse, clock):
    """Missed Monday and Wednesday without a reason; it is Wednesday."""
    missed(going, by=nurse)
    assert days_of(going) == []
    clock.move_to(at(WED))
    missed(going, WED, by=nurse)
    return going


def test_two_in_a_row_without_a_reason(unheard):
    assert days_of(unheard) == [MONDAY, WED]


@pytest.mark.parametrize("reason", ["ill", "weather"])
def test_a_reason_ends_the_row(unheard, nurse, clock, reason):
    clock.move_to(at(FRI))
    missed(unheard, FRI, by=nurse, absence=reason)
    assert days_of(unheard) == []


def test_an_absence_corrected_takes_the_call_back(unheard, nurse):
    planned = unheard.planned.select_related("slot__site", "enrolment__patient__site").get(on=WED)
    undo_arrival(planned, by=nurse)
    assert days_of(unheard) == []
    missed(unheard, WED, by=nurse)
    assert days_of(unheard) == [MONDAY, WED]
    missed(unheard, WED, by=nurse, absence="work")  # they rang: another reason
    assert days_of(unheard) == []


def test_what_was_announced_ahead_is_no_missed_session(unheard, nurse):
    missed(unheard, FRI, by=nurse)
    assert days_of(unheard) == [MONDAY, WED]


def test_nobody_calls_about_a_paused_or_ended_course(unheard, clinician):
    enrolments.pause(unheard, FRI, "surgery", by=clinician)
    assert days_of(unheard) == []
    enrolments.resume(unheard, FRI, by=clinician)
    unheard.refresh_from_db()
    assert days_of(unheard) == [MONDAY, WED]
    enrolments.close(unheard, WED, "lost", by=clinician)
    unheard.refresh_from_db()
    assert days_of(unheard) == []


def called(client, course, outcome, **more):
    page = reverse("attendance:call", args=[course.pk])
    typed = {"how": "phone", "outcome": outcome, "note": "No bus", "submission_key": new_key()}
    return client.post(page, typed | {"missed_until": str(WED)} | more)


def test_due_says_whom_to_call_and_a_call_recorded_takes_it_off(
    client, unheard, nurse, clock, people
):
    client.force_login(nurse)
    patient = unheard.patient
    patient.phone = "555-0137"
    patient.save()
    page = " ".join(client.get(reverse("reports:due")).content.decode().split())
    assert "2 sessions missed in a row without a reason: Mon 30 Nov, Wed 2 Dec" in page
    assert "555-0137" in page
    assert len(due_for(nurse).calls) == 1
    call = " ".join(
        client.get(reverse("attendance:call", args=[unheard.pk])).content.decode().split()
    )
    assert "Phone <b>555-0137</b>" in call
    sent = called(client, unheard, "reached")
    assert sent.status_code == 302
    made = ContactAttempt.objects.get()
    assert (made.by, made.note, made.missed_until) == (nurse, "No bus", WED)
    assert made.referral == unheard.referral
    assert days_of(unheard) == []
    assert "missed in a row" not in client.get(reverse("reports:due")).content.decode()
    # It happens again: two more, not one.
    clock.move_to(at(FRI))
    missed(unheard, FRI, by=nurse)
    assert days_of(unheard) == []
    clock.move_to(at(NEXT))
    missed(unheard, NEXT, by=nurse)
    assert days_of(unheard) == [FRI, NEXT]


def test_who_was_not_reached_stays_with_the_try_or_until_the_next_one(
    client, unheard, nurse, clock
):
    client.force_login(nurse)
    called(client, unheard, "no_answer")
    assert days_of(unheard) == [MONDAY, WED]
    page = " ".join(client.get(reverse("reports:due")).content.decode().split())
    assert "No answer, 2 Dec 10:00" in page
    again = called(client, unheard, "no_answer", next_try_on=str(WED + timedelta(days=1)))
    assert again.status_code == 302
    assert days_of(unheard) == []
    clock.move_to(at(WED + timedelta(days=1)))
    assert days_of(unheard) == [MONDAY, WED]
    client.logout()  # a day has gone by
    client.force_login(nurse)
    sent = called(client, unheard, "message")
    assert sent.headers["Location"] == reverse("reports:due")
    assert days_of(unheard) == []


def test_two_desks_call_one_is_told_and_the_same_form_counts_once(client, unheard, nurse):
    client.force_login(nurse)
    key = new_key()
    assert called(client, unheard, "reached", submission_key=key).status_code == 302
    assert called(client, unheard, "reached", submission_key=key).status_code == 302
    assert ContactAttempt.objects.count() == 1
    late = called(client, unheard, "reached")
    assert late.status_code == 200
    assert "Nobody is to be called" in late.content.decode()
    assert ContactAttempt.objects.count() == 1


def test_a_try_in_the_past_is_refused_with_what_was_typed(client, unheard, nurse):
    client.force_login(nurse)
    refused = called(client, unheard, "no_answer", next_try_on=str(MONDAY), note="Rang long")
    page = refused.content.decode()
    assert "The next try lies in the past." in page
    assert "Rang long" in page
    assert not ContactAttempt.objects.exists()


def test_a_call_answers_what_its_page_showed_and_no_more(client, unheard, nurse, clock):
    """Missed again while the page stood open: the call was about the two it showed."""
    clock.move_to(at(FRI))
    missed(unheard, FRI, by=nurse)
    client.force_login(nurse)
    called(client, unheard, "reached")
    assert days_of(unheard) == []
    clock.move_to(at(NEXT))
    missed(unheard, NEXT, by=nurse)
    assert days_of(unheard) == [FRI, NEXT]
